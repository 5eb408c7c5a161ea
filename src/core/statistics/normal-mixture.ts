import { normalCdf } from "./distribution.js";
import { squared } from "./portable-power.js";

/** A weighted mixture of normal distributions; the weights need not be normalised. */
export interface NormalMixture {
  readonly means: Float64Array;
  readonly sds: Float64Array;
  readonly weights: Float64Array;
}

/** Mean and standard deviation of the mixture. */
export function mixtureMoments(mixture: NormalMixture): { readonly mean: number; readonly sd: number } {
  let total = 0;
  let mean = 0;
  for (let k = 0; k < mixture.means.length; k++) {
    total += mixture.weights[k];
    mean += mixture.weights[k] * mixture.means[k];
  }
  mean /= total;
  let variance = 0;
  for (let k = 0; k < mixture.means.length; k++) {
    variance += mixture.weights[k] * (squared(mixture.sds[k]) + squared(mixture.means[k] - mean));
  }
  return { mean, sd: Math.sqrt(variance / total) };
}

/** Quantile of the mixture at a probability inside (0, 1), to 1e-6 of its standard deviation. */
export function mixtureQuantile(mixture: NormalMixture, probability: number): number {
  const { mean, sd } = mixtureMoments(mixture);
  let total = 0;
  for (const weight of mixture.weights) total += weight;
  const cdf = (x: number) => {
    let sum = 0;
    for (let k = 0; k < mixture.means.length; k++) {
      sum += mixture.weights[k] * normalCdf((x - mixture.means[k]) / mixture.sds[k]);
    }
    return sum / total;
  };
  let low = mean - 12 * sd;
  let high = mean + 12 * sd;
  while (high - low > 1e-6 * sd) {
    const middle = (low + high) / 2;
    if (cdf(middle) < probability) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
