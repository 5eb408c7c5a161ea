import { meanAndDeviation } from "./mean-and-deviation.js";

/**
 * Lag-one autocorrelation, `sum (x[t] - m)(x[t+1] - m) / sum (x[t] - m)^2`; 0 for constant values.
 *
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.12.
 * @throws RangeError for no values
 */
export function lagOneAutocorrelation(values: Float64Array): number {
  const { mean } = meanAndDeviation(values);
  let products = 0;
  let squares = 0;
  for (let t = 0; t < values.length; t++) {
    const away = values[t] - mean;
    squares += away * away;
    if (t > 0) products += away * (values[t - 1] - mean);
  }
  return squares === 0 ? 0 : products / squares;
}
