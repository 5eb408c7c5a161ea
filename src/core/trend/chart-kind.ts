/** Charts whose limits are set by simulation. */
export type ChartKind = "shewhart" | "ewma" | "cusum" | "level-shift";

/** Limits by scale ("own": scatter from the baseline flights; "known": told by the fleet), chart, `[baseline][phi]`. */
export interface LimitTable {
  /** Lag-one correlation of the simulated flights, rising. */
  readonly phi: readonly number[];
  readonly baselineFlights: readonly number[];
  readonly limits: Readonly<Record<"own" | "known", Readonly<Record<ChartKind, readonly (readonly number[])[]>>>>;
}
