import { exponential, logarithm } from "../statistics/portable-exponential.js";

/**
 * Parts of the noise and of the slow drift of the bus voltage, in volts and seconds.
 *
 * Reading = drift + coloured + white. White: standard deviation `whiteV` per reading. Coloured: an Ornstein-Uhlenbeck
 * process (AR(1) at regular sampling) of standard deviation `colouredV` and correlation time `colouredTimeS`. Drift: a
 * straight line plus a random walk of the level (`walkVPerSqrtS`) plus a random walk of the slope
 * (`bendVPerS15`, volts per second to the 3/2), whose best estimate is a cubic smoothing spline.
 *
 * Source: Wahba 1978 (spline as integrated random walk), Harvey 1989, Forecasting, Structural Time Series Models and
 * the Kalman Filter (both from memory).
 */
export interface NoiseParameters {
  readonly whiteV: number;
  readonly colouredV: number;
  readonly colouredTimeS: number;
  readonly walkVPerSqrtS: number;
  readonly bendVPerS15: number;
}

/** Number of noise parameters. */
export const NOISE_PARAMETER_COUNT = 5;

/** Natural logarithms of the parameters, in the order of the interface. */
export function toLogs(noise: NoiseParameters): Float64Array {
  return Float64Array.of(
    logarithm(noise.whiteV),
    logarithm(noise.colouredV),
    logarithm(noise.colouredTimeS),
    logarithm(noise.walkVPerSqrtS),
    logarithm(noise.bendVPerS15),
  );
}

/** Inverse of {@link toLogs}. */
export function fromLogs(logs: Float64Array): NoiseParameters {
  return {
    whiteV: exponential(logs[0]),
    colouredV: exponential(logs[1]),
    colouredTimeS: exponential(logs[2]),
    walkVPerSqrtS: exponential(logs[3]),
    bendVPerS15: exponential(logs[4]),
  };
}
