/** One-sided sums of a chart, one per reading. */
export interface CusumTrace {
  readonly upper: Float64Array;
  readonly lower: Float64Array;
}

/**
 * Exponentially weighted moving average of readings; element `i` is the average after reading `i`.
 *
 * `weight` is the share of the newest reading, `start` the average before the first one.
 * @throws RangeError unless 0 < weight <= 1
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
 */
export function ewma(readings: ArrayLike<number>, weight: number, start: number): Float64Array {
  if (!(weight > 0 && weight <= 1)) throw new RangeError(`Cannot average: weight must lie in (0, 1], got ${weight}`);
  let average = start;
  return Float64Array.from(readings, (reading) => {
    average += weight * (reading - average);
    return average;
  });
}

/** Upper and lower limit of an EWMA chart for independent readings: target -+ k s sqrt(weight / (2 - weight)). */
export function ewmaLimits(
  target: number,
  sigma: number,
  weight: number,
  k = 3,
): { readonly lower: number; readonly upper: number } {
  const reach = k * sigma * Math.sqrt(weight / (2 - weight));
  return { lower: target - reach, upper: target + reach };
}

/**
 * Tabular cumulative sums of readings above and below a target.
 *
 * `allowance` (k) is half the shift worth finding, in the unit of the readings.
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.
 */
export function cusum(readings: ArrayLike<number>, target: number, allowance: number): CusumTrace {
  const upper = new Float64Array(readings.length);
  const lower = new Float64Array(readings.length);
  let high = 0;
  let low = 0;
  for (let index = 0; index < readings.length; index++) {
    high = Math.max(0, high + readings[index] - target - allowance);
    low = Math.max(0, low + target - allowance - readings[index]);
    upper[index] = high;
    lower[index] = low;
  }
  return { upper, lower };
}

/** First index at which the trace lies beyond the limit; null when it never does. */
export function firstBeyond(trace: ArrayLike<number>, limit: number): number | null {
  for (let index = 0; index < trace.length; index++) if (trace[index] > limit) return index;
  return null;
}
