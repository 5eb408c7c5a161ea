import { changePoints } from "../detection/change-point.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { robustNoise } from "../statistics/robust-scale.js";
import type { StepWindow } from "./step-time-likelihood.js";

/** A lasting change of a series. */
export interface SeriesStep {
  /** Middle between the last reading before and the first after it, s. */
  readonly timeS: number;
  readonly height: number;
}

/** Steps smaller than this share of the largest are left to others. */
const LEAST_SHARE = 0.25;

/** The lasting changes of a series, those of at least a quarter of the largest; `count` readings make them lasting. */
export function seriesSteps(timesS: Float64Array, values: Float64Array, lasting: number): SeriesStep[] {
  const spread = values.reduce((a, b) => Math.max(a, b)) - values.reduce((a, b) => Math.min(a, b));
  if (!(spread > 0)) return [];
  const sigma = Math.max(robustNoise(values), 0.003 * spread);
  const penalty = 6 * logarithm(values.length) * sigma * sigma;
  const { starts, levels } = changePoints(values, { penalty, minimumLength: Math.max(1, lasting) });
  const steps = Array.from({ length: starts.length - 1 }, (_, k) => ({
    timeS: (timesS[starts[k + 1]! - 1]! + timesS[starts[k + 1]!]!) / 2,
    height: levels[k + 1]! - levels[k]!,
  }));
  const largest = Math.max(0, ...steps.map((step) => Math.abs(step.height)));
  return steps.filter((step) => Math.abs(step.height) >= LEAST_SHARE * largest && Math.abs(step.height) > 2 * sigma);
}

/** The readings between two times. */
export function windowOf(timesS: Float64Array, values: Float64Array, fromS: number, toS: number): StepWindow {
  const start = firstAtOrAfter(timesS, fromS);
  const end = firstAtOrAfter(timesS, toS);
  return { timesS: timesS.subarray(start, end), values: values.subarray(start, end) };
}

function firstAtOrAfter(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle]! < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Share of readings that repeat the one before, from which the meter counts as slower than its log. */
const HELD_SHARE = 0.15;

/**
 * Leaves out readings that only repeat the one before, where many do: the meter renews its value more slowly than it is
 * logged. A new value came at some moment since the row before, so it is put half a row earlier.
 */
export function withoutHeldReadings(
  timesS: Float64Array,
  values: Float64Array,
): { readonly timesS: Float64Array; readonly values: Float64Array } {
  let heldCount = 0;
  for (let i = 1; i < values.length; i += 1) if (values[i] === values[i - 1]) heldCount += 1;
  const levels = new Set(values).size;
  // Few distinct values repeat by themselves, on a coarse display.
  if (heldCount < HELD_SHARE * values.length || levels < 0.1 * values.length) return { timesS, values };
  const kept = [...values.keys()].filter((i) => i === 0 || values[i] !== values[i - 1]);
  return {
    timesS: Float64Array.from(kept, (i) => (i === 0 ? timesS[0]! : (timesS[i - 1]! + timesS[i]!) / 2)),
    values: Float64Array.from(kept, (i) => values[i]!),
  };
}
