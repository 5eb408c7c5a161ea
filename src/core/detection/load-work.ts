import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { SampledTimes } from "../noise/whitening.js";
import type { LoadKind, MeterProfile } from "../profile.js";
import type { WorkingSeries } from "../series/working-series.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { type MatchedScores, matchedScores } from "./matched-scores.js";
import type { ReadingsDesign } from "./readings-design.js";
import type { Display } from "./rounded-response.js";
import { shapeBank, type WeightedShape } from "./shape-bank.js";
import { type RefinedDepth, refineDepth } from "./shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** A load whose switching times are known. */
export interface MarkedLoad {
  readonly id: string;
  readonly onTimes: readonly OnTime[];
  /** Kind of the load; null when nobody said. */
  readonly kind: LoadKind | null;
  /** Standard uncertainty of its switching times, seconds. */
  readonly timeUncertaintyS: number;
}

/** What is known of the meter, and the draws. */
export interface MarkedContext {
  readonly meter: MeterProfile | undefined;
  /** The display that rounded the readings; left out or null where nothing did. */
  readonly display?: Display | null;
  /** Noise of the whole recording; left out or null where it tells no more than the window. */
  readonly wholeNoise?: NoiseParameters | null;
  readonly random: RandomGenerator;
}

/** One load while it is being judged. */
export interface LoadWork {
  readonly load: MarkedLoad;
  readonly bank: readonly WeightedShape[];
  readonly templates: readonly Float64Array[];
  shape: DipShape;
  template: Float64Array;
  depthV: number;
  shapeShows: boolean;
  refined: RefinedDepth | null;
  /** What a slightly wrong shape of a fitted dip would leave behind. */
  leftovers: readonly Float64Array[];
}

/** A load before anything is fitted: its bank of shapes and their templates, the most expected one first in use. */
export function startWork(series: WorkingSeries, load: MarkedLoad, context: MarkedContext): LoadWork {
  const bank = shapeBank(load.kind, context.meter, load.timeUncertaintyS);
  const templates = bank.map(({ shape }) => dipTemplate(series.timesS, series.blockS, load.onTimes, shape));
  const start = heaviest(Float64Array.from(bank, ({ weight }) => weight));
  return {
    load,
    bank,
    templates,
    shape: bank[start].shape,
    template: templates[start],
    depthV: 0,
    shapeShows: false,
    refined: null,
    leftovers: [],
  };
}

/** Fits shape and switching times of one load beside the others, in the given noise; changes `work`. */
export function refineWork(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  work: LoadWork,
  noise: NoiseParameters,
  context: MarkedContext,
): void {
  const refined = refineDepth(
    {
      sampled: design.series,
      blockS: design.series.blockS,
      ...design.columns(othersOf(works, work)),
      noise,
      onTimes: work.load.onTimes,
      kind: work.load.kind,
      meter: context.meter,
      timeUncertaintyS: Math.max(work.load.timeUncertaintyS, 0.02),
    },
    work.refined ?? { shape: work.shape, depthV: work.depthV },
  );
  work.refined = refined;
  work.template = refined.template;
  const { timesS, blockS } = design.series;
  work.leftovers = leftoverShapes(refined.shape).map((shape) => dipTemplate(timesS, blockS, refined.onTimes, shape));
}

/** Shapes whose differences from a fitted one are what a slightly wrong fit would leave. */
export function leftoverShapes(shape: DipShape): readonly DipShape[] {
  return [
    { ...shape, inrush: shape.inrush + 0.3 },
    { ...shape, inrush: shape.inrush + 0.3, settleS: shape.settleS / 2.5 },
    { ...shape, polarization: shape.polarization + 0.3 },
    { ...shape, polarization: shape.polarization + 0.3, polarizationS: shape.polarizationS / 2.5 },
    { ...shape, lagS: 1.5 * shape.lagS + 0.05 },
  ];
}

/** Posterior weights of the shapes: prior x likelihood, with the amplitude integrated out. */
export function shapeWeights(found: MatchedScores, bank: readonly WeightedShape[]): Float64Array {
  const logs = new Float64Array(bank.length);
  let top = Number.NEGATIVE_INFINITY;
  for (let j = 0; j < bank.length; j++) {
    const u = found.uAmplitudesV[j];
    logs[j] = Number.isFinite(u) ? logarithm(bank[j].weight) + logarithm(u) + squared(found.scores[j]) / 2 : -Infinity;
    top = Math.max(top, logs[j]);
  }
  let total = 0;
  for (let j = 0; j < bank.length; j++) {
    logs[j] = exponential(logs[j] - top);
    total += logs[j];
  }
  return logs.map((value) => value / total);
}

/**
 * Columns of the other loads: their dips and, where a dip is strong enough to show its shape and near enough to matter,
 * what a slightly wrong shape of it would leave.
 */
function othersOf(works: readonly LoadWork[], own: LoadWork): Float64Array[] {
  return works
    .filter((work) => work !== own)
    .flatMap((work) => (isNear(work, own) ? [work.template, ...work.leftovers] : [work.template]));
}

/** Seconds within which what is left of one dip may pass for another. */
const NEAR_S = 25;

function isNear(a: LoadWork, b: LoadWork): boolean {
  return a.load.onTimes.some((one) =>
    b.load.onTimes.some((two) => one.onsetS < two.releaseS + NEAR_S && two.onsetS < one.releaseS + NEAR_S),
  );
}

/** Templates of one load beside the columns of the others, ready to be scored in any noise. */
export interface ScoredColumns {
  readonly sampled: SampledTimes;
  readonly columns: Float64Array;
  readonly counts: { readonly common: number; readonly templates: number };
}

/** Columns of one load's templates, the drift and the other loads. */
export function scoredColumns(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  own: LoadWork,
  templates: readonly Float64Array[],
): ScoredColumns {
  const others = othersOf(works, own);
  const { columns } = design.columns(others, templates);
  return { sampled: design.series, columns, counts: { common: 2 + others.length, templates: templates.length } };
}

/** Score, depth in volts and its uncertainty by each template, in the given noise. */
export function scoresOf(
  { sampled, columns, counts }: ScoredColumns,
  noise: NoiseParameters,
  withCorrelations: boolean,
): MatchedScores {
  return matchedScores(sampled, columns, counts, noise, withCorrelations);
}

/** Index of the largest weight; the first of equal ones. */
export function heaviest(weights: Float64Array): number {
  let best = 0;
  for (let j = 1; j < weights.length; j++) if (weights[j] > weights[best]) best = j;
  return best;
}
