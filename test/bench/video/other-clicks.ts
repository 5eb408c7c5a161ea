/**
 * Marks from the sound of a film while another load is switched too: `npx tsx test/bench/video/other-clicks.ts TRIALS SEED`.
 *
 * The switch of a dead load clicks four times on and off; another load draws dips of 0.05 to 0.25 V at random times of about
 * the same rhythm. Readings of a needle at 20 Hz with 3 mV of noise, no pictures; what the dead load, the only one of the
 * profile, is told by the clicks that are heard.
 */
import { needleVolts } from "../../../samples/footage/needle-motion.js";
import { addClick, backgroundSound, SAMPLE_RATE_HZ } from "../../../samples/footage/switch-sound.js";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { heardMarks } from "../../../src/cli/film-marks.js";
import { analyze, type BusProfile } from "../../../src/core/index.js";
import { readMarks, toldUncertaintyS } from "../../../src/importers/profile/marks.js";

const DURATION_S = 24;
const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  meter: { fullScaleV: 30, frictionV: 0 },
  loads: [{ id: "probe", kind: "heater", acceptA: [3, 24], reference: false }],
};
const [count, first] = [Number(process.argv[2] ?? 40), Number(process.argv[3] ?? 1)];

for (const [name, hears] of [
  ["the dead load's clicks are heard alone", { own: true, other: false }],
  ["both are heard", { own: true, other: true }],
  ["the other load's alone, whose dips are real", { own: false, other: true }],
] as const) {
  const told: string[] = [];
  for (let seed = first; seed < first + count; seed++) told.push(await trial(9000 + 13 * seed, hears));
  const tally = [...new Set(told)].sort().map((one) => `${one} ${told.filter((other) => other === one).length}`);
  process.stdout.write(`${name}: ${tally.join(", ")}\n`);
}

async function trial(seed: number, hears: { readonly own: boolean; readonly other: boolean }): Promise<string> {
  const random = randomSource(seed);
  const between = (least: number, most: number) => least + (most - least) * random.uniform();
  const own: number[] = [];
  for (let t = between(2, 3); own.length < 8; t = own.at(-1)! + between(1.6, 2.8)) own.push(t, t + between(1.8, 2.6));
  const other: number[] = [];
  for (let t = between(1, 5); t < DURATION_S - 3; t = other.at(-1)! + between(1.5, 6.5))
    other.push(t, t + between(1, 4));
  const depthV = between(0.05, 0.25);
  const dips = other.flatMap((onS, k) => (k % 2 === 0 ? [{ onS, offS: other[k + 1]!, depthV }] : []));
  const bus = { openCircuitV: 24.4, slopeVPerS: -0.002, needleHz: 2.2, needleDamping: 0.65, dips };
  const shown = needleVolts(bus, DURATION_S);
  const timesS = Float64Array.from({ length: DURATION_S * 20 }, (_, k) => k / 20);
  const voltagesV = timesS.map((timeS) => shown(timeS) + 0.003 * random.normal());
  const samples = backgroundSound({ noise: "quiet", noiseDb: -60 }, DURATION_S * SAMPLE_RATE_HZ, random);
  for (const timeS of [...(hears.own ? own : []), ...(hears.other ? other : [])])
    addClick(samples, timeS, 10 ** (-30 / 20), random);
  const sound = async () => ({ samples, sampleRateHz: SAMPLE_RATE_HZ, startS: 0 });
  const { marksCsv } = await heardMarks({ sound }, { timesS, voltagesV });
  if (marksCsv === null) return "no marks";
  const markUncertaintyS = toldUncertaintyS(marksCsv) ?? 0.2;
  return analyze({ timesS, voltagesV }, { marks: readMarks(marksCsv, "marks", profile), profile, markUncertaintyS })
    .loads[0]!.verdict;
}
