/**
 * Dips far above the noise: `npx tsx test/bench/clear-dips.ts RECORDINGS SEED`. How often the 95 % interval of the depth holds
 * the true one, how far off it is, and how many are not told to respond.
 */
import type { CellName } from "./cells.js";
import { rateInterval } from "./distributions.js";
import { NO_NOISE } from "./noise.js";
import { judge } from "./ours.js";
import { type MarkKind, simulateRecording } from "./simulate.js";
import { meanOf, quantile } from "./statistics.js";

const [count, firstSeed] = [Number(process.argv[2] ?? 20), Number(process.argv[3] ?? 1)];
const CASES: readonly (readonly [CellName, number, number])[] = [
  ["S-W", 0.0005, 1],
  ["S-W", 0.002, 1],
  ["L", 0.001, 1],
  ["S-W", 0.0005, 0.2],
];

for (const marks of ["exact", "jittered"] as const) {
  let [covered, total] = [0, 0];
  for (const [cell, whiteV, depthV] of CASES) {
    const answers = Array.from({ length: count }, (_, k) => answerTo(cell, whiteV, depthV, marks, firstSeed + k));
    const held = answers.filter(({ low, high }) => low <= depthV && depthV <= high).length;
    const errors = answers.map((one) => Math.abs(one.depthV - depthV));
    const overU = Math.sqrt(meanOf(answers.map((one) => ((one.depthV - depthV) / one.u) ** 2)));
    const silent = answers.filter(({ verdict }) => verdict !== "responded").length;
    covered += held;
    total += count;
    process.stdout.write(
      `${cell}, dips of ${depthV} V in ${1000 * whiteV} mV, marks ${marks}: ${held} of ${count} held; off by ${millivolts(quantile(errors, 0.5))} in the middle, ${millivolts(quantile(errors, 1))} at the most, ${overU.toFixed(2)} of their uncertainty (RMS); ${silent} did not respond\n`,
    );
  }
  const { low, high } = rateInterval(covered, total);
  process.stdout.write(
    `marks ${marks}, together: ${covered} of ${total}, ${((100 * covered) / total).toFixed(0)} % [${(100 * low).toFixed(0)}, ${(100 * high).toFixed(0)}]; the cases share their recordings' shapes and times\n`,
  );
}

function answerTo(cell: CellName, whiteV: number, depthV: number, marks: MarkKind, seed: number) {
  const settings = { noise: { ...NO_NOISE, whiteV } };
  const recording = simulateRecording(cell, { seed, depthV, marks, settings });
  return judge(recording, { falseAlarmRate: 0.01, power: 0.95, knowledge: "marked" });
}

function millivolts(valueV: number): string {
  return `${(1000 * valueV).toPrecision(2)} mV`;
}
