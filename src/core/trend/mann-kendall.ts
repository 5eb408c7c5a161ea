import { normalSurvival } from "../statistics/distribution.js";

/** Answer of the Mann-Kendall test for a monotone trend. */
export interface MannKendall {
  /** Pairs that rise less pairs that fall. */
  readonly s: number;
  readonly varianceS: number;
  /** Standard score with the continuity correction. */
  readonly z: number;
  /** Two-sided p-value from the normal approximation. */
  readonly pValue: number;
  /** Kendall's tau-a: `s` over the number of pairs. */
  readonly tau: number;
}

/**
 * Tests readings in time order for a monotone trend; groups of equal readings lower the variance.
 *
 * `varianceFactor` widens the variance for readings that follow one another, `(1 + r1) / (1 - r1)` for lag-one
 * correlation `r1`; 1 for independent readings.
 *
 * @throws RangeError for fewer than three readings
 * Source: US EPA QA/G-9S (2006), section 4.3.4; Hamed & Rao, J. Hydrol. 204 (1998) 182 for the variance factor.
 */
export function mannKendall(readings: ArrayLike<number>, varianceFactor = 1): MannKendall {
  const count = readings.length;
  if (count < 3) throw new RangeError(`Cannot test for a trend: at least 3 readings are needed, got ${count}`);
  let s = 0;
  for (let later = 1; later < count; later++) {
    for (let earlier = 0; earlier < later; earlier++) s += Math.sign(readings[later] - readings[earlier]);
  }
  const varianceS = varianceFactor * kendallVariance(readings);
  const z = s === 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(varianceS);
  return {
    s,
    varianceS,
    z,
    pValue: Math.min(1, 2 * normalSurvival(Math.abs(z))),
    tau: (2 * s) / (count * (count - 1)),
  };
}

/** Variance of Kendall's S for independent readings with groups of ties. Source: US EPA QA/G-9S, box 4-9. */
export function kendallVariance(readings: ArrayLike<number>): number {
  const sorted = Float64Array.from(readings).sort();
  const term = (n: number) => n * (n - 1) * (2 * n + 5);
  let variance = term(sorted.length);
  for (let start = 0; start < sorted.length; ) {
    let end = start + 1;
    while (end < sorted.length && sorted[end] === sorted[start]) end++;
    variance -= term(end - start);
    start = end;
  }
  return variance / 18;
}
