/**
 * Recordings in which nobody marked anything: `npx tsx test/bench/unmarked.ts RECORDINGS SEED`.
 *
 * How many dips are found at 6, 8 and 12 times the bound, how many loads `responded` without a dip, and how often what is
 * no load that is switched on and off passes for the only one of a profile, with its times marked and not.
 */
import { randomSource } from "../../samples/simulator/random-source.js";
import { analyze, type BusProfile, type Recording, type SwitchingMark } from "../../src/core/index.js";
import { depthBoundV } from "./bounds.js";
import type { CellName } from "./cells.js";
import { simulateRecording } from "./simulate.js";

type Random = ReturnType<typeof randomSource>;
type Course = (timeS: number) => number;

const [count, seed] = [Number(process.argv[2] ?? 24), Number(process.argv[3] ?? 1)];
const CELLS: readonly CellName[] = ["S-W", "S-F", "S-A"];
const SIGMAS = [6, 8, 12];
const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [{ id: "probe", kind: "heater", acceptA: [6, 14], reference: false }],
};

print(`Loads that responded, of ${count} recordings each, times unknown, seeds from ${770_000 + seed}`);
for (const cell of CELLS) {
  const found = SIGMAS.map((sigma) => `${sigma} bounds ${countOf((k) => isFound(cell, 770_000 + seed + k, sigma))}`);
  print(`  ${cell}: no dip ${countOf((k) => isFound(cell, 1_310_000 + seed + k, 0))}, ${found.join(", ")}`);
}

function isFound(cell: CellName, recordingSeed: number, sigma: number): boolean {
  const empty = simulateRecording(cell, { seed: recordingSeed, depthV: 0, marks: "none" });
  const depthV = sigma * depthBoundV(empty);
  const { timesS, voltagesV } = simulateRecording(cell, { seed: recordingSeed, depthV, marks: "none" });
  return analyze({ timesS, voltagesV }).loads.some(({ verdict }) => verdict === "responded");
}

/** Moments of a Poisson stream of this mean interval. */
function moments(random: Random, meanS: number, untilS: number): number[] {
  const out: number[] = [];
  for (;;) {
    const nextS = (out.at(-1) ?? 0) - meanS * Math.log(random.uniform());
    if (nextS >= untilS) return out;
    out.push(nextS);
  }
}
const sumOf =
  (parts: readonly Course[]): Course =>
  (timeS) =>
    parts.reduce((sum, part) => sum + part(timeS), 0);
const stepAt =
  (atS: number, byV: number): Course =>
  (timeS) =>
    timeS > atS ? byV : 0;
const signed = (random: Random, leastV: number, moreV: number) =>
  (random.uniform() < 0.5 ? -1 : 1) * (leastV + moreV * random.uniform());

/** What moves the level; the dead load is switched at `edges`. */
const KINDS: Readonly<Record<string, (random: Random, durationS: number, edges: readonly number[]) => Course>> = {
  "one step": (random, durationS) => stepAt(durationS * (0.15 + 0.7 * random.uniform()), signed(random, 0.03, 0.3)),
  "one step at a mark": (random, _, edges) =>
    stepAt(edges[Math.floor(random.uniform() * edges.length)]! + 0.3 * random.normal(), signed(random, 0.03, 0.2)),
  "steps of any height": (random, durationS) =>
    sumOf(moments(random, 15, durationS).map((atS) => stepAt(atS, 0.08 * random.normal()))),
  "bends of the slope": (random, durationS) =>
    sumOf(
      moments(random, 10, durationS).map((atS): Course => {
        const slope = 0.01 * random.normal();
        return (timeS) => Math.max(0, timeS - atS) * slope;
      }),
    ),
  "another load, switched at random": (random, durationS) => {
    const [at, depthV] = [moments(random, 8, durationS), 0.02 + 0.15 * random.uniform()];
    return (timeS) => (at.filter((one) => one < timeS).length % 2 === 1 ? -depthV : 0);
  },
  "short pulls of any depth": (random, durationS) =>
    sumOf(
      moments(random, 6, durationS).map((atS): Course => {
        const [forS, depthV] = [0.3 + 1.5 * random.uniform(), 0.25 * random.uniform()];
        return (timeS) => (timeS > atS && timeS < atS + forS ? -depthV : 0);
      }),
    ),
};

print(`A dead load of ${count} recordings each that responded, marked / unmarked (the last two kinds do dip)`);
for (const [kind, courseOf] of Object.entries(KINDS)) {
  const trials = Array.from({ length: count }, (_, k) => trialOf(courseOf, 100_000 * seed + 17 * k + kind.length));
  const told = (marked: boolean) =>
    trials.filter(({ recording, marks }) => responds(recording, marked ? marks : [])).length;
  print(`  ${kind}: ${told(true)} / ${told(false)}`);
}

function responds(recording: Recording, marks: readonly SwitchingMark[]): boolean {
  return analyze(recording, { marks, profile }).loads.some(
    ({ id, verdict }) => id === "probe" && verdict === "responded",
  );
}

/** Two to five switchings of a load that draws nothing, in coloured noise, on a bus that relaxes. */
function trialOf(courseOf: (typeof KINDS)[string], trialSeed: number) {
  const random = randomSource(trialSeed);
  const edges: number[] = [];
  const rateHz = [2, 5, 10, 25][Math.floor(4 * random.uniform())]!;
  let t = 8 + 12 * random.uniform();
  for (let left = 2 + Math.floor(4 * random.uniform()); left > 0; left--) {
    edges.push(t, t + 3 + 4 * random.uniform());
    t = edges.at(-1)! + 3 + 5 * random.uniform();
  }
  const durationS = t + 6 * random.uniform();
  const course = courseOf(random, durationS, edges);
  const [sigmaV, lagS, stepS] = [0.006 + 0.01 * random.uniform(), 0.3, 0.01];
  let [shownV, shownS, noiseV] = [course(0), 0, 0];
  const timesS = Float64Array.from({ length: Math.floor(durationS * rateHz) }, (_, i) => i / rateHz);
  const voltagesV = timesS.map((timeS) => {
    for (; shownS < timeS - 1e-9; shownS += stepS) shownV += ((course(shownS) - shownV) * stepS) / lagS;
    noiseV = 0.6 * noiseV + 0.8 * sigmaV * random.normal();
    return 24.2 + 0.3 * Math.exp(-timeS / 40) + shownV + noiseV;
  });
  const marks = edges.map((timeS, k): SwitchingMark => {
    return { timeS: timeS + 0.2 * random.normal(), load: "probe", action: k % 2 === 0 ? "on" : "off" };
  });
  return { recording: { timesS, voltagesV }, marks };
}

print(
  "A dead load without an acceptable current that responded where the level wanders for a while only, marked there / unmarked",
);
for (const [durationS, walksForS, walkVPerSqrtS] of [
  [60, 20, 0.02],
  [120, 40, 0.01],
  [120, 40, 0.02],
  [300, 60, 0.01],
  [1300, 200, 0.005],
] as const) {
  const [told, untold] = [true, false].map((marked) =>
    countOf((k) => wandersAndResponds({ durationS, walksForS, walkVPerSqrtS }, seed + k, marked)),
  );
  print(`  ${walkVPerSqrtS * 1000} mV in a second for ${walksForS} s of ${durationS} s: ${told} / ${untold}`);
}

/** White noise of 20 mV; the level walks for a while and stays where it came to. */
function wandersAndResponds(
  wander: { readonly durationS: number; readonly walksForS: number; readonly walkVPerSqrtS: number },
  trialSeed: number,
  marked: boolean,
): boolean {
  const random = randomSource(trialSeed);
  const rateHz = wander.durationS > 1000 ? 2 : 5;
  const fromS = random.uniform() * (wander.durationS - wander.walksForS);
  const onsetS = fromS + random.uniform() * Math.max(0, wander.walksForS - 45);
  let levelV = 24.2;
  const timesS = Float64Array.from({ length: wander.durationS * rateHz }, (_, i) => i / rateHz);
  const voltagesV = timesS.map((timeS) => {
    const walks = timeS > fromS && timeS < fromS + wander.walksForS;
    levelV += walks ? (wander.walkVPerSqrtS / Math.sqrt(rateHz)) * random.normal() : 0;
    return levelV - 0.2 * Math.exp(-timeS / 80) + 0.02 * random.normal();
  });
  const marks = [0, 1, 2].flatMap((k): SwitchingMark[] => [
    { timeS: onsetS + 14 * k, load: "probe", action: "on" },
    { timeS: onsetS + 14 * k + 7, load: "probe", action: "off" },
  ]);
  const { acceptA: _, ...dead } = profile.loads[0]!;
  const { loads } = analyze(
    { timesS, voltagesV },
    {
      marks: marked ? marks.filter(({ timeS }) => timeS < wander.durationS) : [],
      profile: { ...profile, loads: [dead] },
    },
  );
  return loads.some(({ verdict }) => verdict === "responded");
}

function countOf(holds: (k: number) => boolean): number {
  return Array.from({ length: count }, (_, k) => holds(k)).filter(Boolean).length;
}

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}
