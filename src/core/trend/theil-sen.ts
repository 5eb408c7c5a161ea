import { normalQuantile } from "../statistics/distribution.js";
import { median, quantileOfSorted } from "../statistics/quantile.js";
import { kendallVariance } from "./mann-kendall.js";

/** Median of the slopes of all pairs, with its interval from Kendall's S. */
export interface TheilSen {
  readonly slope: number;
  readonly low: number;
  readonly high: number;
  /** Median of the readings less slope times their moments. */
  readonly intercept: number;
}

export interface TheilSenOptions {
  /** Probability of the interval; default 0.95. */
  readonly coverage?: number;
  /**
   * Factor on the variance of S for readings that follow one another, `(1 + r1) / (1 - r1)`; default 1.
   * Measured: without it a nominal 95 % interval covers 80 to 86 % at a lag-one correlation of 0.4.
   */
  readonly varianceFactor?: number;
}

/**
 * Robust straight line through `readings` at `moments` (any unit, non-decreasing; pairs at one moment are left out).
 *
 * An interval whose rank falls beyond the pairs is unbounded (infinite) on that side.
 *
 * @throws RangeError for fewer than two different moments
 * Source: Sen, J. Am. Stat. Assoc. 63 (1968) 1379.
 */
export function theilSen(
  moments: ArrayLike<number>,
  readings: ArrayLike<number>,
  options: TheilSenOptions = {},
): TheilSen {
  const slopes = pairSlopes(moments, readings);
  const pairs = slopes.length;
  if (pairs === 0) throw new RangeError("Cannot fit a slope: at least 2 readings at different moments are needed");
  const slope = quantileOfSorted(slopes, 0.5);
  const quantile = normalQuantile(0.5 + 0.5 * (options.coverage ?? 0.95));
  const reach = quantile * Math.sqrt((options.varianceFactor ?? 1) * kendallVariance(readings));
  // Ranks counted from one: the M1-th smallest and the (M2 + 1)-th smallest slope.
  const lowRank = Math.round((pairs - reach) / 2);
  const highRank = Math.round((pairs + reach) / 2 + 1);
  const residuals = Float64Array.from(readings, (reading, index) => reading - slope * moments[index]);
  return {
    slope,
    low: lowRank < 1 ? Number.NEGATIVE_INFINITY : slopes[lowRank - 1],
    high: highRank > pairs ? Number.POSITIVE_INFINITY : slopes[highRank - 1],
    intercept: median(residuals),
  };
}

function pairSlopes(moments: ArrayLike<number>, readings: ArrayLike<number>): Float64Array {
  const count = readings.length;
  const slopes = new Float64Array((count * (count - 1)) / 2);
  let filled = 0;
  for (let later = 1; later < count; later++) {
    for (let earlier = 0; earlier < later; earlier++) {
      const span = moments[later] - moments[earlier];
      if (span !== 0) slopes[filled++] = (readings[later] - readings[earlier]) / span;
    }
  }
  return slopes.subarray(0, filled).sort();
}
