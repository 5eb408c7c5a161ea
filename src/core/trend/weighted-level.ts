import type { Uncertain } from "../quantity/quantity.js";
import { squared } from "../statistics/portable-power.js";

/** Weighted mean of readings with their standard uncertainties, and the scatter that these do not explain. */
export interface WeightedLevel extends Uncertain {
  /** Scatter between the readings beyond their stated uncertainties; 0 where these explain it all. */
  readonly excess: number;
}

/**
 * Mean of readings weighted by `1 / (u^2 + excess^2)`, the excess chosen so that the weighted sum of squares is what
 * chance would give.
 *
 * Stated uncertainties that are larger than the scatter are believed: a fault common to all readings does not show in
 * their scatter.
 * @throws RangeError for no readings or an uncertainty that is not positive
 * Source: Paule & Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377.
 */
export function weightedLevel(readings: readonly Uncertain[]): WeightedLevel {
  if (readings.length === 0) throw new RangeError("Cannot take a level: at least 1 reading is needed, got 0");
  const wrong = readings.find((reading) => !(reading.u > 0));
  if (wrong) throw new RangeError(`Cannot weight readings: every uncertainty must be positive, got ${wrong.u}`);
  const excessVariance = balancedVariance(readings);
  const { mean, weightSum } = weightedMean(readings, excessVariance);
  return { value: mean, u: 1 / Math.sqrt(weightSum), excess: Math.sqrt(excessVariance) };
}

/** Variance at which the weighted sum of squares equals its degrees of freedom, by bisection. */
function balancedVariance(readings: readonly Uncertain[]): number {
  const surplus = (variance: number) => weightedMean(readings, variance).squares - (readings.length - 1);
  let low = 0;
  let high = readings.reduce((most, reading) => Math.max(most, squared(reading.value - readings[0].value)), 0);
  // Equal readings, or a single one, may miss their own mean by a rounding; that is no scatter.
  if (high === 0 || surplus(0) <= 0) return 0;
  while (surplus(high) > 0) high *= 2;
  for (let step = 0; step < 60; step++) {
    const middle = 0.5 * (low + high);
    if (surplus(middle) > 0) low = middle;
    else high = middle;
  }
  return 0.5 * (low + high);
}

function weightedMean(readings: readonly Uncertain[], excessVariance: number) {
  const weights = readings.map((reading) => 1 / (squared(reading.u) + excessVariance));
  const weightSum = weights.reduce((sum, weight) => sum + weight, 0);
  const mean = readings.reduce((sum, reading, index) => sum + weights[index] * reading.value, 0) / weightSum;
  const squares = readings.reduce((sum, reading, index) => sum + weights[index] * squared(reading.value - mean), 0);
  return { mean, weightSum, squares };
}
