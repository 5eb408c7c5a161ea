import { logarithm } from "./portable-exponential.js";
import { squared } from "./portable-power.js";
import { robustDeviation } from "./robust-scale.js";

/** Noise of single readings and its correlation time. */
export interface ReadingNoise {
  /** Standard deviation of one reading, in the unit of the readings. */
  readonly sigma: number;
  /** Time constant of the correlation, seconds; 0 for white noise. */
  readonly correlationS: number;
}

/** Readings between the farther ones of a difference; fewer in a short series, of which steps would touch too many. */
const FAR = 10;
const FAR_SHARE = 1 / 20;

/**
 * Noise of a series that drifts and steps, from second differences at distances of one and of ten readings (a
 * twentieth of fewer than 200).
 *
 * At ten readings the noise is taken as uncorrelated; the ratio of the two then tells an autoregressive correlation.
 */
export function readingNoise(timesS: Float64Array, values: Float64Array): ReadingNoise {
  const near = secondDifferenceVariance(values, 1);
  const far = secondDifferenceVariance(values, Math.max(1, Math.min(FAR, Math.floor(FAR_SHARE * values.length))));
  // Variances: 2 s^2 (1 - p)(3 - p) near, 6 s^2 far, with p the correlation of neighbours.
  const correlation = 2 - Math.sqrt(1 + (3 * near) / far);
  const intervalS = (timesS[timesS.length - 1] - timesS[0]) / (timesS.length - 1);
  return {
    sigma: Math.sqrt(Math.max(near, far) / 6),
    correlationS: correlation > 0 && correlation < 1 ? -intervalS / logarithm(correlation) : 0,
  };
}

function secondDifferenceVariance(values: Float64Array, distance: number): number {
  const count = values.length - 2 * distance;
  if (count < 3) return 0;
  const stride = Math.max(1, Math.floor(count / 20_000));
  const differences: number[] = [];
  for (let k = 0; k < count; k += stride) {
    differences.push(values[k] - 2 * values[k + distance] + values[k + 2 * distance]);
  }
  return squared(robustDeviation(Float64Array.from(differences)));
}
