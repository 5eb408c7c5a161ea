/** The power of ten at or below a positive number, the same in every engine, which logarithms are not. */
export function decimalExponent(value: number): number {
  return Number(value.toExponential().split("e")[1]);
}

/** A whole power of ten, the nearest double in every engine. */
export function powerOfTen(exponent: number): number {
  return Number(`1e${exponent}`);
}
