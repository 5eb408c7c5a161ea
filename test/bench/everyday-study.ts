import { depthBoundV, windowOf } from "./bounds.js";
import type { CellName } from "./cells.js";
import { type EverydayWay, everydayWays, type Knowledge } from "./everyday.js";
import { type MarkKind, type SimulatedRecording, simulateRecording, withDepth } from "./simulate.js";
import { quantile, tailQuantile } from "./statistics.js";

export interface EverydayPlan {
  readonly cell: CellName;
  readonly knowledge: Knowledge;
  readonly marks: MarkKind;
  readonly falseAlarmRate: number;
  readonly power: number;
  /** Empty recordings that set the threshold, recordings that choose the settings, the same for the final figures. */
  readonly trainingCount: number;
  readonly choosingCount: number;
  readonly testSeeds: readonly number[];
}

/** The best setting of one family, measured on recordings that had no part in choosing it. */
export interface EverydayResult {
  readonly family: EverydayWay["family"];
  readonly settings: string;
  readonly threshold: number;
  readonly tests: readonly { readonly seed: number; readonly isFalseAlarm: boolean; readonly foundV: number }[];
}

/** Training seeds start here; test seeds lie below. */
const FIRST_TRAINING_SEED = 5_000_000;

export function studyEveryday(plan: EverydayPlan): EverydayResult[] {
  const draw = (seed: number) => everydayReadings(simulateRecording(plan.cell, { seed, depthV: 0, marks: plan.marks }));
  const training = Array.from({ length: plan.trainingCount }, (_, k) => draw(FIRST_TRAINING_SEED + k));
  const ways = everydayWays(plan.knowledge, plan.cell.length === 1 && "WAFR".includes(plan.cell));
  const choosing = training
    .slice(0, plan.choosingCount)
    .map((recording) => ({ recording, sigmaV: depthBoundV(recording) }));
  const rated = ways.map((way) => {
    const threshold = tailQuantile(training.map(way.statistic), plan.falseAlarmRate);
    const depths = choosing.map(({ recording, sigmaV }) => foundV(way, recording, sigmaV, threshold) / sigmaV);
    return { way, threshold, needed: quantile(depths, plan.power) };
  });
  const families = [...new Set(ways.map(({ family }) => family))];
  const best = families.map((family) =>
    rated.filter(({ way }) => way.family === family).reduce((a, b) => (b.needed < a.needed ? b : a)),
  );
  const tests = plan.testSeeds.map((seed) => {
    const recording = draw(seed);
    return { seed, recording, sigmaV: depthBoundV(recording) };
  });
  return best.map(({ way, threshold }) => ({
    family: way.family,
    settings: way.settings,
    threshold,
    tests: tests.map(({ seed, recording, sigmaV }) => ({
      seed,
      isFalseAlarm: way.statistic(recording) > threshold,
      foundV: foundV(way, recording, sigmaV, threshold),
    })),
  }));
}

/** Smallest depth at which the way speaks, to a thirtieth of the bound; infinite where 60 bounds are not enough. */
function foundV(way: EverydayWay, recording: SimulatedRecording, sigmaV: number, threshold: number): number {
  const speaks = (depthV: number) => way.statistic(withDepth(recording, depthV)) > threshold;
  if (speaks(0)) return 0;
  let low = 0;
  let high = 6 * sigmaV;
  while (!speaks(high)) {
    low = high;
    high *= 1.6;
    if (high > 60 * sigmaV) return Number.POSITIVE_INFINITY;
  }
  while (high - low > sigmaV / 15) {
    const middle = (low + high) / 2;
    if (speaks(middle)) high = middle;
    else low = middle;
  }
  return (low + high) / 2;
}

/** Long even recordings are averaged to 2 Hz first: it loses next to nothing and anyone would do it. */
function everydayReadings(recording: SimulatedRecording): SimulatedRecording {
  if (windowOf(recording, 300) === recording || recording.truth.intervalS === null) return recording;
  const every = Math.round(0.5 / recording.truth.intervalS);
  const average = (values: Float64Array) =>
    Float64Array.from({ length: Math.floor(values.length / every) }, (_, k) => {
      let sum = 0;
      for (let j = 0; j < every; j++) sum += values[k * every + j];
      return sum / every;
    });
  const { truth } = recording;
  return {
    ...recording,
    timesS: average(recording.timesS),
    voltagesV: average(recording.voltagesV),
    emptyV: average(recording.emptyV),
    unitFall: average(recording.unitFall),
    driftV: average(recording.driftV),
    truth: { ...truth, quantumV: 0 },
  };
}
