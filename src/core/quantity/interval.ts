import { normalQuantile, normalSurvival } from "../statistics/distribution.js";
import { mixtureMoments, mixtureQuantile, type NormalMixture } from "../statistics/normal-mixture.js";
import type { Quantity, Route, Unit } from "./quantity.js";

/** Probability of the intervals that leave the core. */
export const COVERAGE = 0.95;

/** Quantity from its whole distribution. */
export function quantityFromMixture<U extends Unit>(mixture: NormalMixture, unit: U, route: Route): Quantity<U> {
  const { mean, sd } = mixtureMoments(mixture);
  return {
    value: mean,
    u: sd,
    unit,
    low: mixtureQuantile(mixture, (1 - COVERAGE) / 2),
    high: mixtureQuantile(mixture, (1 + COVERAGE) / 2),
    coverage: COVERAGE,
    route,
  };
}

/** Quantity with a normal distribution. */
export function normalQuantity<U extends Unit>(value: number, u: number, unit: U, route: Route): Quantity<U> {
  const half = normalQuantile((1 + COVERAGE) / 2) * u;
  return { value, u, unit, low: value - half, high: value + half, coverage: COVERAGE, route };
}

/**
 * Interval of a depth that was accepted only because it exceeded a critical value.
 *
 * The bounds are those of the normal distribution cut off below the critical value, so that intervals of accepted depths
 * cover. Unchanged from about four standard uncertainties above it.
 *
 * Source: truncated-normal conditional inference, e.g. Lee, Sun, Sun & Taylor 2016, The Annals of Statistics 44 (from
 * memory).
 */
export function selectionAdjusted<U extends Unit>(quantity: Quantity<U>, critical: number): Quantity<U> {
  const { value, u } = quantity;
  if (!(value > critical) || value > critical + 4.5 * u) return quantity;
  const exceeding = (truth: number) => normalSurvival((value - truth) / u) / normalSurvival((critical - truth) / u);
  // The chance of an accepted depth to exceed this one grows with the truth.
  const truthAt = (probability: number) => {
    let low = value - 12 * u;
    let high = value + 8 * u;
    for (let k = 0; k < 60; k++) {
      const middle = (low + high) / 2;
      if (exceeding(middle) < probability) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  };
  // An accepted response is a fall, so that the interval ends at nothing; the value stays the plain estimate.
  const low = Math.max(0, Math.min(truthAt((1 - quantity.coverage) / 2), quantity.low));
  const high = Math.max(truthAt((1 + quantity.coverage) / 2), value);
  return { ...quantity, low, high };
}
