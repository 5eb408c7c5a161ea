import { logBeta } from "./gamma-function.js";
import { exponential, logarithm, logarithmOfOnePlus } from "./portable-exponential.js";
import { squared } from "./portable-power.js";

const TINY = 1e-300;
const PRECISION = 3e-16;

/**
 * Regularised incomplete beta function I_x(a, b) for a, b > 0, with x and its complement 1 - x given apart.
 *
 * Where the result is below about one half its relative error stays under 1e-12.
 * Source: DLMF 8.17.22 (continued fraction).
 */
export function incompleteBeta(a: number, b: number, x: number, complement: number): number {
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(b, a, complement, x);
  const logX = complement < 0.5 ? logarithmOfOnePlus(-complement) : logarithm(x);
  const logComplement = x < 0.5 ? logarithmOfOnePlus(-x) : logarithm(complement);
  return exponential(a * logX + b * logComplement - logBeta(a, b)) * continuedFraction(a, b, x, complement);
}

/**
 * The even part of the fraction, whose terms do not cancel where `x` is close to 1 and `a` is large.
 */
function continuedFraction(a: number, b: number, x: number, complement: number): number {
  const offset = a * complement - b * x + 1;
  const denominator = (m: number) =>
    m +
    (m === 0 ? 0 : (m * (b - m) * x) / (a + 2 * m - 1)) +
    ((a + m) * (offset + m * (1 + complement))) / (a + 2 * m + 1);
  let value = nonZero(denominator(0));
  let c = value;
  let d = 0;
  for (let m = 1; m < 1e6; m++) {
    const numerator = ((a + m - 1) * (a + b + m - 1) * m * (b - m) * x * x) / squared(a + 2 * m - 1);
    d = 1 / nonZero(denominator(m) + numerator * d);
    c = nonZero(denominator(m) + numerator / c);
    const factor = c * d;
    value *= factor;
    if (Math.abs(factor - 1) < PRECISION) break;
  }
  return 1 / value;
}

function nonZero(x: number): number {
  return Math.abs(x) < TINY ? TINY : x;
}
