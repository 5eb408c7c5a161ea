import { choleskyInPlace, logDeterminantOfCholesky, solveCholesky } from "../statistics/cholesky.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { fromLogs, NOISE_PARAMETER_COUNT, type NoiseParameters } from "./noise-parameters.js";
import { type SampledTimes, whitenedProducts } from "./whitening.js";

/** Readings (last column) with the columns that explain their mean (drift line, dips), row-major as in whitening. */
export interface ExplainedReadings {
  readonly sampled: SampledTimes;
  readonly columns: Float64Array;
  readonly columnCount: number;
}

/** Normal prior on the logarithm of each noise parameter. */
export interface NoisePrior {
  readonly meanLogs: Float64Array;
  readonly sdLogs: Float64Array;
}

/**
 * Weak prior knowledge of the noise, scaled to the reading-to-reading scatter `scaleV` (volts) and to the interval
 * between readings (seconds). Centres and widths follow the study of short recordings: coloured noise of about 0.8 s
 * (factor e), wander of about an eighth of the scatter per root second (factor e^1.3); invented, not measured on an aircraft.
 */
export function weakNoisePrior(scaleV: number, intervalS: number): NoisePrior {
  return {
    meanLogs: Float64Array.of(
      logarithm(scaleV),
      logarithm(0.5 * scaleV),
      logarithm(Math.max(0.8, 3 * intervalS)),
      logarithm(0.12 * scaleV),
      logarithm(0.004 * scaleV),
    ),
    sdLogs: Float64Array.of(2, 1.5, 1, 1.3, 1.5),
  };
}

/**
 * Minus the logarithm of the restricted likelihood times the prior, up to a constant.
 *
 * Source: Patterson & Thompson 1971, Biometrika 58 (restricted likelihood, from memory).
 */
export function restrictedObjective(readings: ExplainedReadings, logs: Float64Array, prior: NoisePrior): number {
  const noise = fromLogs(logs);
  const { gram, columnCount, logDeterminant } = whitenedProducts(
    readings.sampled,
    readings.columns,
    readings.columnCount,
    noise,
  );
  const explained = columnCount - 1;
  const normal = new Float64Array(explained * explained);
  const right = new Float64Array(explained);
  for (let a = 0; a < explained; a++) {
    for (let b = 0; b < explained; b++) normal[a * explained + b] = gram[a * columnCount + b];
    right[a] = gram[a * columnCount + explained];
  }
  if (!choleskyInPlace(normal, explained)) return Number.POSITIVE_INFINITY;
  const solution = solveCholesky(normal, explained, right);
  let rss = gram[columnCount * columnCount - 1];
  for (let a = 0; a < explained; a++) rss -= solution[a] * right[a];
  return (
    0.5 * (logDeterminant + logDeterminantOfCholesky(normal, explained) + Math.max(rss, 0)) + priorPenalty(logs, prior)
  );
}

/** Minus the logarithm of the prior density, up to a constant. */
export function priorPenalty(logs: Float64Array, prior: NoisePrior): number {
  let penalty = 0;
  for (let k = 0; k < NOISE_PARAMETER_COUNT; k++) {
    const z = (logs[k] - prior.meanLogs[k]) / prior.sdLogs[k];
    penalty += 0.5 * z * z;
  }
  return penalty;
}

/** Minus the logarithm of how likely the readings make these noise parameters, up to a constant. */
export type NoiseObjective = (logs: Float64Array) => number;

/** A fit of the noise: its mode in logarithms and the inverse of the curvature there. */
export interface NoiseFit {
  readonly logs: Float64Array;
  readonly noise: NoiseParameters;
  readonly objective: number;
}

/** Finds the noise parameters of greatest restricted posterior density; see {@link likeliestNoise}. */
export function fitNoise(
  readings: ExplainedReadings,
  prior: NoisePrior,
  start?: Float64Array,
  leastGain?: number,
): NoiseFit {
  return likeliestNoise((logs) => restrictedObjective(readings, logs, prior), start ?? prior.meanLogs, leastGain);
}

/**
 * Least point of an objective by BFGS with numeric derivatives, to where an iteration gains less than `leastGain`.
 *
 * Never fails: where the surface is flat its prior holds it, and the best point met is returned.
 */
export function likeliestNoise(objective: NoiseObjective, start: Float64Array, leastGain = LEAST_GAIN): NoiseFit {
  const f = (logs: Float64Array) => {
    const value = objective(logs);
    return Number.isFinite(value) ? value : UNUSABLE;
  };
  const n = NOISE_PARAMETER_COUNT;
  let x: Float64Array = Float64Array.from(start);
  let fx = f(x);
  let gradient = forwardGradient(f, x, fx);
  let inverse = scaledIdentity(n, 0.3);
  for (let iteration = 0; iteration < 60; iteration++) {
    const step = multiplyNegative(inverse, gradient, n);
    limitStep(step, 1.5);
    const slope = dot(step, gradient);
    if (slope >= 0) {
      inverse = scaledIdentity(n, 0.1);
      continue;
    }
    let t = 1;
    let next = advance(x, step, t);
    let fNext = f(next);
    while (!(fNext <= fx + 1e-4 * t * slope) && t > 1e-3) {
      t *= 0.4;
      next = advance(x, step, t);
      fNext = f(next);
    }
    if (!(fNext < fx)) break;
    const nextGradient = forwardGradient(f, next, fNext);
    updateInverse(inverse, next, x, nextGradient, gradient, n);
    const gain = fx - fNext;
    x = next;
    fx = fNext;
    gradient = nextGradient;
    if (gain < leastGain && iteration > 2) break;
  }
  return { logs: x, noise: fromLogs(x), objective: fx };
}

const LEAST_GAIN = 1e-3;

/** Stands for a point at which the likelihood cannot be had; any usable point is better. */
const UNUSABLE = 1e15;

function forwardGradient(f: (x: Float64Array) => number, x: Float64Array, fx: number): Float64Array {
  const h = 1e-4;
  const gradient = new Float64Array(x.length);
  for (let k = 0; k < x.length; k++) {
    const shifted = Float64Array.from(x);
    shifted[k] += h;
    gradient[k] = (f(shifted) - fx) / h;
  }
  return gradient;
}

function scaledIdentity(n: number, scale: number): Float64Array {
  const matrix = new Float64Array(n * n);
  for (let k = 0; k < n; k++) matrix[k * n + k] = scale;
  return matrix;
}

function multiplyNegative(matrix: Float64Array, vector: Float64Array, n: number): Float64Array {
  const out = new Float64Array(n);
  for (let a = 0; a < n; a++) {
    let sum = 0;
    for (let b = 0; b < n; b++) sum -= matrix[a * n + b] * vector[b];
    out[a] = sum;
  }
  return out;
}

function limitStep(step: Float64Array, longest: number): void {
  let size = 0;
  for (const value of step) size = Math.max(size, Math.abs(value));
  if (size > longest) for (let k = 0; k < step.length; k++) step[k] *= longest / size;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k] * b[k];
  return sum;
}

function advance(x: Float64Array, step: Float64Array, t: number): Float64Array {
  return x.map((value, k) => value + t * step[k]);
}

/** BFGS update of the inverse curvature; skipped where the curvature along the step is not positive. */
function updateInverse(
  inverse: Float64Array,
  next: Float64Array,
  x: Float64Array,
  nextGradient: Float64Array,
  gradient: Float64Array,
  n: number,
): void {
  const s = next.map((value, k) => value - x[k]);
  const y = nextGradient.map((value, k) => value - gradient[k]);
  const sy = dot(s, y);
  if (sy <= 1e-10) return;
  const hy = new Float64Array(n);
  for (let a = 0; a < n; a++) for (let b = 0; b < n; b++) hy[a] += inverse[a * n + b] * y[b];
  const yhy = dot(y, hy);
  for (let a = 0; a < n; a++) {
    for (let b = 0; b < n; b++) {
      inverse[a * n + b] += ((1 + yhy / sy) * s[a] * s[b] - hy[a] * s[b] - s[a] * hy[b]) / sy;
    }
  }
}
