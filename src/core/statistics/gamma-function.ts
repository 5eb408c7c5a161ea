import { logarithm, logarithmOfOnePlus } from "./portable-exponential.js";

// B(2k) / (2k (2k-1)), Stirling's series
const STIRLING = [
  1 / 12,
  -1 / 360,
  1 / 1260,
  -1 / 1680,
  1 / 1188,
  -691 / 360360,
  1 / 156,
  -3617 / 122400,
  43867 / 244188,
];
const HALF_LOG_TWO_PI = 0.9189385332046728;

/**
 * ln Gamma(x) - [(x - 1/2) ln x - x + ln(2 pi)/2] for x > 0: the part that stays small where ln Gamma is huge.
 *
 * Source: DLMF 5.11.1.
 */
export function stirlingRemainder(x: number): number {
  if (x < 12) {
    // One step up the recurrence; log1p keeps the difference exact.
    const step = (x + 0.5) * logarithmOfOnePlus(1 / x) - 1;
    return stirlingRemainder(x + 1) + step;
  }
  const inverseSquare = 1 / (x * x);
  let sum = 0;
  for (let k = STIRLING.length - 1; k >= 0; k--) sum = sum * inverseSquare + STIRLING[k];
  return sum / x;
}

/** Natural logarithm of the gamma function for x > 0; absolute error about 1e-15 max(1, |result|). */
export function logGamma(x: number): number {
  if (!(x > 0)) throw new RangeError(`Cannot take the logarithm of gamma: x must be > 0, got ${x}`);
  return (x - 0.5) * logarithm(x) - x + HALF_LOG_TWO_PI + stirlingRemainder(x);
}

/** ln B(a, b) without the cancellation of three large log-gammas. Source: DLMF 5.12.1 with 5.11.1. */
export function logBeta(a: number, b: number): number {
  const small = Math.min(a, b);
  const large = Math.max(a, b);
  const remainder = stirlingRemainder(small) + stirlingRemainder(large) - stirlingRemainder(small + large);
  return (
    HALF_LOG_TWO_PI +
    remainder -
    (large - 0.5) * logarithmOfOnePlus(small / large) +
    (small - 0.5) * logarithm(small) -
    small * logarithm(small + large)
  );
}

/** ln(1 + x) - x, accurate near zero; x > -1. */
export function logOnePlusMinus(x: number): number {
  if (Math.abs(x) > 0.4) return logarithmOfOnePlus(x) - x;
  // ln((1+r)/(1-r)) = 2 (r + r^3/3 + ...) with r = x/(2+x)
  const r = x / (2 + x);
  const square = r * r;
  let sum = 0;
  for (let k = 25; k >= 1; k--) sum = sum * square + 1 / (2 * k + 1);
  return r * (2 * square * sum - x);
}
