/** SI unit symbols of the quantities that leave the core. */
export type Unit = "V" | "A" | "Ohm" | "min" | "s" | "Ah" | "1";

/**
 * A value with its uncertainty, as it leaves the core.
 *
 * `u` is the standard uncertainty; `low` and `high` bound the coverage interval of probability `coverage`, which need
 * not be symmetric. `route` names how the value came about.
 *
 * Source: JCGM 100:2008, 2.3.1 (standard uncertainty); JCGM 101:2008, 3.12 (coverage interval).
 */
export interface Quantity<U extends Unit> {
  readonly value: number;
  readonly u: number;
  readonly unit: U;
  readonly low: number;
  readonly high: number;
  readonly coverage: number;
  readonly route: Route;
}

/** How a quantity was obtained. */
export type Route =
  | "generalized-least-squares"
  | "interval-likelihood"
  | "measured-current"
  | "reference-load"
  | "known-resistance"
  | "profile"
  | "two-current"
  | "readings"
  | "capacity-and-current";

/** A prior value with its standard uncertainty, in the unit of the field that holds it. */
export interface Uncertain {
  readonly value: number;
  readonly u: number;
}
