import type { UncertaintyBudget } from "../analysis.js";
import { COVERAGE, normalQuantity } from "../quantity/interval.js";
import type { Quantity, Route, Uncertain, Unit } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { monteCarlo, symmetricInterval } from "./monte-carlo.js";

/** A measurement model with its inputs drawn anew at each call. */
export type Draw = (random: RandomGenerator) => number;

/** A quantity, and by which of the two propagations its interval came about. */
export interface PropagatedQuantity<U extends Unit> {
  readonly quantity: Quantity<U>;
  readonly method: Extract<UncertaintyBudget["method"], "first-order" | "monte-carlo">;
}

/** An end of the interval may be off by this share of the half-width before the drawn interval is taken. */
const AGREEMENT = 0.1;
const DRAW_COUNT = 20_000;

/**
 * Quantity from its first-order value and uncertainty, with the interval drawn beside it; the drawn interval and
 * standard uncertainty are given where an end departs by more than 10 % of the half-width.
 *
 * Source: JCGM 101:2008, clause 8 (validation of the first order by drawing).
 */
export function propagatedQuantity<U extends Unit>(
  firstOrder: Uncertain & { readonly unit: U; readonly route: Route },
  draw: Draw,
  random: RandomGenerator,
): PropagatedQuantity<U> {
  const plain = normalQuantity(firstOrder.value, firstOrder.u, firstOrder.unit, firstOrder.route);
  if (!(firstOrder.u > 0)) return { quantity: plain, method: "first-order" };
  const drawn = monteCarlo(draw, random, DRAW_COUNT);
  const { low, high } = symmetricInterval(drawn.sorted, COVERAGE);
  const half = (plain.high - plain.low) / 2;
  const departs = Math.max(Math.abs(low - plain.low), Math.abs(high - plain.high));
  if (departs <= AGREEMENT * half) return { quantity: plain, method: "first-order" };
  return { quantity: { ...plain, u: drawn.u, low, high }, method: "monte-carlo" };
}

/** Largest relative uncertainty of a divisor up to which the first order is known to do: its interval's ends then agree. */
const SAFE_DIVISOR = 0.03;

/**
 * A resistance as a voltage over a current, times a factor; first order, with the interval drawn beside it where the
 * current is known to worse than 3 % (below that the ends agree within 2 x 3 % of the half-width).
 *
 * Source: as {@link propagatedQuantity}.
 */
export function propagatedRatio(
  {
    numerator,
    divisor,
    factor,
  }: { readonly numerator: Uncertain; readonly divisor: Uncertain; readonly factor: Uncertain },
  route: Route,
  random: RandomGenerator,
): Quantity<"Ohm"> {
  const value = (factor.value * numerator.value) / divisor.value;
  const u =
    Math.abs(value) * rootSumSquares(numerator.u / numerator.value, divisor.u / divisor.value, factor.u / factor.value);
  if (divisor.u < SAFE_DIVISOR * Math.abs(divisor.value)) return normalQuantity(value, u, "Ohm", route);
  const drawNumerator = normalDraw(numerator);
  const drawDivisor = normalDraw(divisor);
  const drawFactor = normalDraw(factor);
  return propagatedQuantity(
    { value, u, unit: "Ohm", route },
    (generator) => (drawFactor(generator) * drawNumerator(generator)) / drawDivisor(generator),
    random,
  ).quantity;
}

/** Draws a normal input. */
export function normalDraw({ value, u }: Uncertain): Draw {
  return (random) => value + u * random.normal();
}
