/** Charts whose limits are set by simulation. */
export type ChartKind = "shewhart" | "ewma" | "cusum" | "level-shift";

/** Limits `[rate][baseline][phi]` of each chart, by scale ("own": scatter from the baseline flights; "known": told by the fleet). */
export interface LimitTable {
  /** Shares of batteries in control that are called, falling. */
  readonly rates: readonly [number, number];
  readonly baselineFlights: readonly number[];
  /** Lag-one correlation of the simulated flights, rising. */
  readonly phi: readonly number[];
  readonly limits: Readonly<
    Record<"own" | "known", Readonly<Record<ChartKind, readonly (readonly (readonly number[])[])[]>>>
  >;
}
