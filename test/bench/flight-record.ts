import type { RandomGenerator } from "../../src/core/statistics/random.js";

/** What one simulated battery does from flight to flight; all in units of one flight's scatter. */
export interface FlightRecordModel {
  readonly flightCount: number;
  /** Lag-one correlation. */
  readonly phi: number;
  /** Share of flights with an error of 5 scatters on top, either sign. */
  readonly outlierShare: number;
  /** Departure of the level at flight `index`. */
  readonly departure?: (index: number) => number;
}

/** Flights of a battery: a first-order autoregression of unit scatter, outliers, and a departure of the level. */
export function flightRecord(model: FlightRecordModel, generator: RandomGenerator): Float64Array {
  const innovation = Math.sqrt(1 - model.phi ** 2);
  let state = generator.normal();
  return Float64Array.from({ length: model.flightCount }, (_, index) => {
    if (index > 0) state = model.phi * state + innovation * generator.normal();
    const outlier = generator.uniform() < model.outlierShare ? (generator.uniform() < 0.5 ? -5 : 5) : 0;
    return state + outlier + (model.departure?.(index) ?? 0);
  });
}
