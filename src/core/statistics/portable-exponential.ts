/**
 * Exponential and logarithm from the four basic operations alone, which IEEE 754 fixes to the last bit: every engine gets
 * the same number, as it need not from `Math.exp` and `Math.log` (ECMA-262 leaves their last digits to the engine), so that
 * a record made on one machine can be computed again on any other.
 *
 * Source: argument reductions and polynomials of fdlibm 5.3 (e_exp.c, e_log.c), "Copyright (C) 2004 by Sun Microsystems,
 * Inc. All rights reserved. Permission to use, copy, modify, and distribute this software is freely granted, provided that
 * this notice is preserved." Error below one unit in the last place.
 */

// biome-ignore lint/suspicious/noApproximativeNumericConstant: the first 32 bits of ln 2, so that its multiples are exact
const LN2_HIGH = 0.6931471803691238;
const LN2_LOW = 1.9082149292705877e-10;
const INVERSE_LN2 = 1.4426950408889634;
const OVERFLOW = 709.782712893384;
const UNDERFLOW = -745.1332191019411;
const LEAST_EXPONENT = -1022;
/** Exponent by which results below the normal range are made too large first; TINY_SHIFT is 2 to its negative. */
const SUBNORMAL_SHIFT = 64;
const LEAST_NORMAL = 2.2250738585072014e-308;
const TWO_54 = 18014398509481984;
const TINY_SHIFT = 5.421010862427522e-20;

/** 2^-1022 to 2^1023, each made by exact doublings. */
const POWERS_OF_TWO = ((): Float64Array => {
  const powers = new Float64Array(1023 - LEAST_EXPONENT + 1);
  powers[-LEAST_EXPONENT] = 1;
  for (let i = -LEAST_EXPONENT + 1; i < powers.length; i++) powers[i] = 2 * powers[i - 1];
  for (let i = -LEAST_EXPONENT - 1; i >= 0; i--) powers[i] = 0.5 * powers[i + 1];
  return powers;
})();

/** e^x, dimensionless. NaN for NaN; infinity above 709.78; 0 below -745.13. */
export function exponential(x: number): number {
  if (!(x <= OVERFLOW)) return x > OVERFLOW ? Number.POSITIVE_INFINITY : Number.NaN;
  if (x < UNDERFLOW) return 0;
  const k = Math.floor(INVERSE_LN2 * x + 0.5);
  const high = x - k * LN2_HIGH;
  const low = k * LN2_LOW;
  const r = high - low;
  const t = r * r;
  const c =
    r -
    t *
      (0.16666666666666602 +
        t *
          (-0.0027777777777015593 +
            t * (0.00006613756321437934 + t * (-0.0000016533902205465252 + t * 4.1381367970572385e-8))));
  const y = 1 - (low - (r * c) / (2 - c) - high);
  if (k < LEAST_EXPONENT) return y * POWERS_OF_TWO[k + SUBNORMAL_SHIFT - LEAST_EXPONENT] * TINY_SHIFT;
  if (k > 1023) return y * 2 * POWERS_OF_TWO[k - 1 - LEAST_EXPONENT];
  return y * POWERS_OF_TWO[k - LEAST_EXPONENT];
}

const asDouble = new Float64Array(1);
const asWords = new Uint32Array(asDouble.buffer);
asDouble[0] = 1;
/** Which of the two words holds sign and exponent: the order of bytes is the processor's. */
const TOP = asWords[0] === 0 ? 1 : 0;

/** ln x, dimensionless. NaN for NaN and below 0; minus infinity for 0. */
export function logarithm(x: number): number {
  if (!(x > 0)) return x === 0 ? Number.NEGATIVE_INFINITY : Number.NaN;
  if (x === Number.POSITIVE_INFINITY) return x;
  let k = 0;
  let normal = x;
  if (x < LEAST_NORMAL) {
    normal = x * TWO_54;
    k = -54;
  }
  asDouble[0] = normal;
  const exponent = (asWords[TOP] >> 20) - 1023;
  k += exponent;
  let mantissa = exponent > 1022 ? normal * 0.5 * POWERS_OF_TWO[0] : normal * POWERS_OF_TWO[-exponent - LEAST_EXPONENT];
  if (mantissa > Math.SQRT2) {
    mantissa *= 0.5;
    k++;
  }
  const f = mantissa - 1;
  const s = f / (2 + f);
  const z = s * s;
  const w = z * z;
  const even = w * (0.3999999999940942 + w * (0.22222198432149784 + w * 0.15313837699209373));
  const odd = z * (0.6666666666666735 + w * (0.2857142874366239 + w * (0.1818357216161805 + w * 0.14798198605116586)));
  const half = 0.5 * f * f;
  return k * LN2_HIGH - (half - (s * (half + (even + odd)) + k * LN2_LOW) - f);
}

/**
 * e^x - 1 without cancellation near 0.
 * Source: N. J. Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed., 1.14.1 (after W. Kahan).
 */
export function exponentialLessOne(x: number): number {
  const whole = exponential(x);
  if (whole === 1) return x;
  if (whole === Number.POSITIVE_INFINITY) return whole;
  const less = whole - 1;
  return less === -1 ? -1 : (less * x) / logarithm(whole);
}

/**
 * ln(1 + x) without loss near 0.
 * Source: as `exponentialLessOne`.
 */
export function logarithmOfOnePlus(x: number): number {
  const whole = 1 + x;
  if (whole === 1 || whole === Number.POSITIVE_INFINITY) return x;
  return (logarithm(whole) * x) / (whole - 1);
}
