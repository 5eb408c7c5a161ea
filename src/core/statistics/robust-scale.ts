import { median } from "./quantile.js";

/** Normal quantile of 3/4, inverted: makes the median absolute deviation estimate a standard deviation. */
const NORMAL_FACTOR = 1.4826022185056018;

/**
 * Standard deviation of the bulk of the values: 1.4826 times the median absolute deviation from the median.
 *
 * Source: Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393.
 * @throws RangeError for no values
 */
export function robustDeviation(values: Float64Array): number {
  const middle = median(values);
  return NORMAL_FACTOR * median(values.map((value) => Math.abs(value - middle)));
}

/**
 * Standard deviation of white noise on a series that drifts and steps: from the differences of neighbours, robustly.
 *
 * 0 for fewer than two values.
 */
export function robustNoise(series: Float64Array): number {
  if (series.length < 2) return 0;
  // A sample of whole neighbourhoods is enough for two digits.
  const stride = Math.max(1, Math.floor(series.length / 20_000));
  const differences: number[] = [];
  for (let k = 1; k < series.length; k += stride) differences.push(series[k] - series[k - 1]);
  return robustDeviation(Float64Array.from(differences)) / Math.SQRT2;
}
