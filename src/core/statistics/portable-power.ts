import { exponential, logarithm } from "./portable-exponential.js";

/** x times x: the same bits in every engine, which `x ** 2` need not be. */
export function squared(x: number): number {
  return x * x;
}

/**
 * `base` to the `exponent`, the same bits in every engine. Whole exponents up to 1100 by repeated multiplication (powers of
 * ten as their nearest double, powers of two exact); halves by the square root; the rest as e^(exponent ln base), whose
 * relative error grows as |exponent ln base| units in the last place. NaN for a negative base and a fractional exponent.
 */
export function power(base: number, exponent: number): number {
  if (Number.isInteger(exponent) && Math.abs(exponent) <= 1100) {
    if (base === 10) return Number(`1e${exponent}`);
    return exponent < 0 ? 1 / wholePower(base, -exponent) : wholePower(base, exponent);
  }
  if (Number.isInteger(2 * exponent) && Math.abs(exponent) <= 1100) {
    const whole = wholePower(base, Math.abs(exponent) - 0.5) * Math.sqrt(base);
    return exponent < 0 ? 1 / whole : whole;
  }
  return exponential(exponent * logarithm(base));
}

function wholePower(base: number, exponent: number): number {
  let product = 1;
  let factor = base;
  for (let left = exponent; left > 0; left = Math.floor(left / 2)) {
    if (left % 2 === 1) product *= factor;
    factor *= factor;
  }
  return product;
}

/** Square root of the sum of squares, in the unit of its parts; safe from overflow. 0 for none. */
export function rootSumSquares(...parts: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < parts.length; i++) sum += parts[i] * parts[i];
  if (sum > 1e-280 && sum < 1e280) return Math.sqrt(sum);
  let most = 0;
  for (let i = 0; i < parts.length; i++) {
    const size = Math.abs(parts[i]);
    if (!(size <= most)) most = size;
  }
  if (most === 0 || !Number.isFinite(most)) return most;
  let scaled = 0;
  for (let i = 0; i < parts.length; i++) scaled += (parts[i] / most) * (parts[i] / most);
  return most * Math.sqrt(scaled);
}
