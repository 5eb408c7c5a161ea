import { lagOneAutocorrelation } from "../statistics/autocorrelation.js";
import { squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";

/** Level and scatter of a battery's first flights, with outliers held at arm's length. */
export interface Baseline {
  readonly mean: number;
  /** Scatter of one flight about the mean. */
  readonly sigma: number;
  /** Lag-one correlation from flight to flight, as computed; biased low for few flights. */
  readonly r1: number;
  readonly flightCount: number;
}

/** How far a single flight may pull, in scatters. */
export const WINSOR = 2.5;

// Standard deviation of a standard normal variable winsorised at 2.5; its variance is 0.9776.
const WINSORISED_NORMAL_SIGMA = 0.9887;
const MAD_TO_SIGMA = 1.4826;

/** A standardised value drawn in to at most `limit` on either side. */
export function winsorize(z: number, limit = WINSOR): number {
  return Math.max(-limit, Math.min(limit, z));
}

/**
 * Level, scatter and lag-one correlation of the readings [0, count), each reading winsorised at 2.5 scatters.
 *
 * @throws RangeError for fewer than five readings
 */
export function baselineOf(readings: ArrayLike<number>, count: number = readings.length): Baseline {
  if (count < 5) throw new RangeError(`Cannot set a baseline: at least 5 flights are needed, got ${count}`);
  const first = Float64Array.from({ length: count }, (_, index) => readings[index]);
  let mean = median(first);
  let sigma = MAD_TO_SIGMA * median(first.map((reading) => Math.abs(reading - mean)));
  // More than half of the flights read the same: fall back on all of them.
  if (sigma === 0) sigma = Math.sqrt(first.reduce((sum, reading) => sum + squared(reading - mean), 0) / count);
  if (sigma === 0) return { mean, sigma: 0, r1: 0, flightCount: count };
  for (let pass = 0; pass < 4; pass++) {
    const z = first.map((reading) => winsorize((reading - mean) / sigma));
    const centre = z.reduce((sum, each) => sum + each, 0) / count;
    const variance = z.reduce((sum, each) => sum + squared(each - centre), 0) / (count - 1);
    mean += sigma * centre;
    sigma *= Math.sqrt(variance) / WINSORISED_NORMAL_SIGMA;
  }
  return {
    mean,
    sigma,
    r1: lagOneAutocorrelation(first.map((reading) => winsorize((reading - mean) / sigma))),
    flightCount: count,
  };
}
