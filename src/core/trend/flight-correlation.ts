import type { Uncertain } from "../quantity/quantity.js";
import { power, squared } from "../statistics/portable-power.js";

/**
 * What is assumed of the lag-one correlation from flight to flight before a battery's own flights have told.
 *
 * Seasons, temperature and the same hands make one flight resemble the next; 0.3 is common practice, no source.
 */
const ASSUMED_CORRELATION: Uncertain = { value: 0.3, u: 0.15 };

const LARGEST = 0.6;

/**
 * Lag-one correlation from a record's own `r1` over `flightCount` flights and what was assumed before, each weighted by
 * its variance; between 0 and 0.6.
 *
 * Twenty flights alone tell it to about 0.2 and too low by `(1 + 4 r1) / n`.
 * Source: Kendall, Biometrika 41 (1954) 403 for the bias; from memory.
 */
export function flightCorrelation(r1: number, flightCount: number, assumed: Uncertain = ASSUMED_CORRELATION): number {
  const corrected = r1 + (1 + 4 * r1) / flightCount;
  const ownWeight = 1 / Math.max(1e-3, (1 - squared(Math.min(0.9, Math.abs(corrected)))) / flightCount);
  const assumedWeight = assumed.u > 0 ? 1 / squared(assumed.u) : Number.POSITIVE_INFINITY;
  const settled =
    assumedWeight === Number.POSITIVE_INFINITY
      ? assumed.value
      : (ownWeight * corrected + assumedWeight * assumed.value) / (ownWeight + assumedWeight);
  return Math.min(LARGEST, Math.max(0, settled));
}

/** Factor on the variance of a mean of many flights with lag-one correlation `phi`. */
export function correlationFactor(phi: number): number {
  return (1 + phi) / (1 - phi);
}

/** Variance of the mean of `count` flights in units of one flight's variance, for lag-one correlation `phi`. */
export function varianceOfMean(count: number, phi: number): number {
  return (correlationFactor(phi) - (2 * phi * (1 - power(phi, count))) / (count * squared(1 - phi))) / count;
}
