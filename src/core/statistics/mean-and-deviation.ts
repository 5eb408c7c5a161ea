/** Mean and standard deviation of a sample. */
export interface MeanAndDeviation {
  readonly mean: number;
  /** Standard deviation with n - 1 in the denominator; NaN for a single value. */
  readonly deviation: number;
}

/**
 * Mean and standard deviation in two passes, with the rounding error of the mean taken out of the second.
 *
 * Source: Chan, Golub & LeVeque, Am. Stat. 37 (1983) 242-247, eq. 1.7.
 * @throws RangeError for no values
 */
export function meanAndDeviation(values: Float64Array): MeanAndDeviation {
  const count = values.length;
  if (count === 0) throw new RangeError("Cannot take a mean: at least 1 value is needed, got 0");
  let sum = 0;
  for (let k = 0; k < count; k++) sum += values[k] - values[0];
  const mean = values[0] + sum / count;
  let rest = 0;
  let squares = 0;
  for (let k = 0; k < count; k++) {
    const away = values[k] - mean;
    rest += away;
    squares += away * away;
  }
  return {
    mean: mean + rest / count,
    deviation: Math.sqrt((squares - (rest * rest) / count) / (count - 1)),
  };
}
