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
    Math.log(noise.whiteV),
    Math.log(noise.colouredV),
    Math.log(noise.colouredTimeS),
    Math.log(noise.walkVPerSqrtS),
    Math.log(noise.bendVPerS15),
  );
}

/** Inverse of {@link toLogs}. */
export function fromLogs(logs: Float64Array): NoiseParameters {
  return {
    whiteV: Math.exp(logs[0]),
    colouredV: Math.exp(logs[1]),
    colouredTimeS: Math.exp(logs[2]),
    walkVPerSqrtS: Math.exp(logs[3]),
    bendVPerS15: Math.exp(logs[4]),
  };
}
