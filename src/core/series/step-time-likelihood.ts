import { exponential } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";

/** Readings around one step of a series, with what is known of their noise. */
export interface StepWindow {
  readonly timesS: Float64Array;
  readonly values: Float64Array;
}

/** How a step is looked for in a window: times and lags to try. */
export interface StepSearch {
  readonly firstS: number;
  readonly stepS: number;
  readonly count: number;
  /** First-order time constants of the instrument, s; 0 for none. */
  readonly lagsS: readonly number[];
  /** Correlation of the noise of neighbouring readings, and their usual interval. */
  readonly correlation: number;
  readonly intervalS: number;
}

/** From this many readings on a window's level may slope. */
export const SLOPE_READINGS = 12;

/**
 * Residual sums of squares of a step seen through each lag at each time, after the best level, slope and height: one
 * array over times per lag.
 *
 * Where the noise of neighbours is correlated, both readings and model are whitened as an AR(1) series first.
 */
export function stepResiduals(window: StepWindow, search: StepSearch): Float64Array[] {
  const { timesS } = window;
  const whiten = whitener(timesS, search);
  const middleS = (timesS[0]! + timesS.at(-1)!) / 2;
  const ones = whiten(timesS.map(() => 1));
  const slope = whiten(timesS.map((time) => time - middleS));
  const level = scaled(ones, 1 / norm(ones));
  takeOff(slope, level);
  const slopeNorm = norm(slope);
  // Few readings cannot tell a slope from a step.
  const basis = slopeNorm > 1e-12 && timesS.length >= SLOPE_READINGS ? [level, scaled(slope, 1 / slopeNorm)] : [level];
  const readings = whiten(window.values);
  for (const direction of basis) takeOff(readings, direction);
  const total = dot(readings, readings);
  const shape = new Float64Array(timesS.length);
  return search.lagsS.map((lagS) =>
    Float64Array.from({ length: search.count }, (_, k) => {
      const onsetS = search.firstS + k * search.stepS;
      for (let i = 0; i < shape.length; i += 1) shape[i] = stepResponse(timesS[i]! - onsetS, lagS);
      const seen = whiten(shape);
      for (const direction of basis) takeOff(seen, direction);
      const size = dot(seen, seen);
      // A step outside the window, or hidden in its level and slope, explains nothing.
      return size < 1e-9 * shape.length ? total : Math.max(0, total - squared(dot(readings, seen)) / size);
    }),
  );
}

/** Response of a first-order instrument to a unit step, `afterS` behind it. */
export function stepResponse(afterS: number, lagS: number): number {
  if (afterS < 0) return 0;
  return lagS === 0 ? 1 : 1 - exponential(-afterS / lagS);
}

function whitener(timesS: Float64Array, search: StepSearch): (series: Float64Array) => Float64Array {
  if (search.correlation <= 0) return (series) => series.slice();
  const kept = timesS.map((time, i) =>
    i === 0 ? 0 : power(search.correlation, (time - timesS[i - 1]!) / search.intervalS),
  );
  const scale = kept.map((share) => 1 / Math.sqrt(Math.max(1e-6, 1 - share * share)));
  return (series) => series.map((value, i) => (i === 0 ? value : (value - kept[i]! * series[i - 1]!) * scale[i]!));
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i]! * b[i]!;
  return sum;
}

const norm = (a: Float64Array): number => Math.sqrt(dot(a, a));
const scaled = (a: Float64Array, factor: number): Float64Array => a.map((value) => value * factor);

function takeOff(values: Float64Array, direction: Float64Array): void {
  const share = dot(values, direction);
  for (let i = 0; i < values.length; i += 1) values[i] = values[i]! - share * direction[i]!;
}
