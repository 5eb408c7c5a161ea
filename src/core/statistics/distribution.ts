import { complementaryErrorFunction } from "./error-function.js";
import { logBeta, logGamma } from "./gamma-function.js";
import { incompleteBeta } from "./incomplete-beta.js";
import { incompleteGamma } from "./incomplete-gamma.js";
import { exponential, logarithm, logarithmOfOnePlus } from "./portable-exponential.js";
import { power } from "./portable-power.js";

const LOG_ROOT_TWO_PI = 0.9189385332046728;

/** Probability that a standard normal variable is at most `x`; relative error below 1e-14, in the far tail 2e-13. */
export function normalCdf(x: number): number {
  return 0.5 * complementaryErrorFunction(-x / Math.SQRT2);
}

/** Probability that a standard normal variable exceeds `x`; relative error below 1e-14, in the far tail 2e-13. */
export function normalSurvival(x: number): number {
  return 0.5 * complementaryErrorFunction(x / Math.SQRT2);
}

/** Density of the standard normal distribution. */
export function normalDensity(x: number): number {
  return exponential(-0.5 * x * x - LOG_ROOT_TWO_PI);
}

/**
 * The `x` that a standard normal variable stays below with the given probability; relative error below 1e-14.
 *
 * @throws RangeError unless 0 <= probability <= 1
 */
export function normalQuantile(probability: number): number {
  requireProbability(probability);
  if (probability === 0.5) return 0;
  if (probability > 0.5) return -normalQuantile(1 - probability);
  if (probability === 0) return Number.NEGATIVE_INFINITY;
  // Abramowitz & Stegun 26.2.23, error 4.5e-4, then Halley's method.
  const t = Math.sqrt(-2 * logarithm(probability));
  let x = (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308))) - t;
  for (let step = 0; step < 3; step++) {
    const excess = (normalCdf(x) - probability) / normalDensity(x);
    x -= excess / (1 + 0.5 * x * excess);
  }
  return x;
}

/**
 * Probability that Student's t with `dof` degrees of freedom (any real number > 0) exceeds `t`.
 *
 * Relative error below 1e-13 for t > 0 (measured for dof 0.3 to 1e5, down to probabilities of 1e-200).
 */
export function studentTSurvival(t: number, dof: number): number {
  requireDof(dof);
  if (t < 0) return 1 - studentTSurvival(-t, dof);
  if (dof === Number.POSITIVE_INFINITY) return normalSurvival(t);
  const square = t * t;
  return 0.5 * incompleteBeta(0.5 * dof, 0.5, 1 / (1 + square / dof), 1 / (1 + dof / square));
}

/** Probability that Student's t with `dof` degrees of freedom is at most `t`. */
export function studentTCdf(t: number, dof: number): number {
  return studentTSurvival(-t, dof);
}

/**
 * The `t` that Student's t with `dof` degrees of freedom stays below with the given probability.
 *
 * Relative error below 1e-12.
 * @throws RangeError unless 0 <= probability <= 1 and dof > 0
 */
export function studentTQuantile(probability: number, dof: number): number {
  requireProbability(probability);
  requireDof(dof);
  if (probability === 0.5) return 0;
  if (probability > 0.5) return -studentTQuantile(1 - probability, dof);
  if (probability === 0) return Number.NEGATIVE_INFINITY;
  if (dof === Number.POSITIVE_INFINITY) return normalQuantile(probability);
  // Near the median the distance from it keeps its digits, in the tail the logarithm of the probability does.
  const central = probability > 0.25;
  const logDensity = (t: number) =>
    -0.5 * (dof + 1) * logarithmOfOnePlus((t * t) / dof) - logBeta(0.5, 0.5 * dof) - 0.5 * logarithm(dof);
  const misfit = central
    ? (t: number) => {
        const inner = 0.5 * incompleteBeta(0.5, 0.5 * dof, 1 / (1 + dof / (t * t)), 1 / (1 + (t * t) / dof));
        return { excess: inner - (0.5 - probability), slope: exponential(logDensity(t)) };
      }
    : (t: number) => {
        const survival = studentTSurvival(t, dof);
        return {
          excess: logarithm(probability) - logarithm(survival),
          slope: exponential(logDensity(t)) / survival,
        };
      };
  return -rootOfRising(misfit, -normalQuantile(probability));
}

/** Probability that chi-square with `dof` degrees of freedom exceeds `x`; relative error below 2e-13. */
export function chiSquareSurvival(x: number, dof: number): number {
  requireDof(dof);
  return x <= 0 ? 1 : incompleteGamma(0.5 * dof, 0.5 * x).upper;
}

/** Probability that chi-square with `dof` degrees of freedom is at most `x`. */
export function chiSquareCdf(x: number, dof: number): number {
  requireDof(dof);
  return x <= 0 ? 0 : incompleteGamma(0.5 * dof, 0.5 * x).lower;
}

/**
 * The `x` that chi-square with `dof` degrees of freedom stays below with the given probability.
 *
 * Relative error below 1e-12.
 * @throws RangeError unless 0 <= probability <= 1 and dof > 0
 */
export function chiSquareQuantile(probability: number, dof: number): number {
  requireProbability(probability);
  requireDof(dof);
  if (probability === 0) return 0;
  if (probability === 1) return Number.POSITIVE_INFINITY;
  const logDensity = (x: number) => (0.5 * dof - 1) * logarithm(0.5 * x) - 0.5 * x - logGamma(0.5 * dof) - Math.LN2;
  const misfit = (x: number) => {
    const { lower, upper } = incompleteGamma(0.5 * dof, 0.5 * x);
    const density = exponential(logDensity(x));
    if (probability < 0.5) return { excess: logarithm(lower) - logarithm(probability), slope: density / lower };
    return { excess: logarithmOfOnePlus(-probability) - logarithm(upper), slope: density / upper };
  };
  // Wilson & Hilferty; below it the leading term of the series.
  const spread = 2 / (9 * dof);
  const cube = power(1 - spread + normalQuantile(probability) * Math.sqrt(spread), 3);
  const leading = 2 * exponential((logarithm(probability) + logGamma(0.5 * dof + 1)) / (0.5 * dof));
  return rootOfRising(misfit, cube > 0.1 * dof ? cube : Math.max(leading, 1e-300));
}

/** Newton's method kept inside a bracket, for a rising function on x > 0. */
function rootOfRising(misfit: (x: number) => { excess: number; slope: number }, start: number): number {
  let low = 0;
  let high = Number.POSITIVE_INFINITY;
  let x = start;
  for (let step = 0; step < 400; step++) {
    const { excess, slope } = misfit(x);
    if (excess === 0) return x;
    if (excess > 0) high = x;
    else low = x;
    let next = x - excess / slope;
    if (Math.abs(next - x) <= 4e-16 * x) return next;
    if (!(next > low && next < high)) {
      if (high === Number.POSITIVE_INFINITY) next = x * 2;
      else next = low === 0 ? high / 2 : (low + high) / 2;
    }
    if (next === x) return x;
    x = next;
  }
  return x;
}

function requireProbability(probability: number): void {
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`Cannot take a quantile: the probability must lie between 0 and 1, got ${probability}`);
  }
}

function requireDof(dof: number): void {
  if (!(dof > 0)) throw new RangeError(`Cannot use a distribution: degrees of freedom must be > 0, got ${dof}`);
}
