/**
 * Sine and cosine from the four basic operations alone, so that every engine gets the same bits (see
 * `portable-exponential.ts`).
 *
 * Source: polynomials of fdlibm 5.3 (k_sin.c, k_cos.c; Sun Microsystems, notice in `portable-exponential.ts`); reduction by
 * a quarter turn in three parts. Absolute error below 1e-15 up to a million radians.
 */

const QUARTER_TURNS_PER_RADIAN = 0.6366197723675814;
const QUARTER_1 = 1.5707963267341256;
const QUARTER_2 = 6.077100506303966e-11;
const QUARTER_3 = 2.0222662487959506e-21;

/** Sine of an angle in radians; NaN where it is not finite. */
export function sine(angleRad: number): number {
  return turned(angleRad, 0);
}

/** Cosine of an angle in radians; NaN where it is not finite. */
export function cosine(angleRad: number): number {
  return turned(angleRad, 1);
}

function turned(angleRad: number, quarters: number): number {
  const n = Math.floor(angleRad * QUARTER_TURNS_PER_RADIAN + 0.5);
  const r = angleRad - n * QUARTER_1 - n * QUARTER_2 - n * QUARTER_3;
  const quarter = (((n + quarters) % 4) + 4) % 4;
  const value = quarter % 2 === 0 ? nearSine(r) : nearCosine(r);
  return quarter < 2 ? value : -value;
}

function nearSine(r: number): number {
  const z = r * r;
  return (
    r +
    r *
      z *
      (-0.16666666666666632 +
        z *
          (0.00833333333332249 +
            z *
              (-0.0001984126982985795 +
                z * (0.0000027557313707070068 + z * (-2.5050760253406863e-8 + z * 1.58969099521155e-10)))))
  );
}

function nearCosine(r: number): number {
  const z = r * r;
  const rest =
    z *
    z *
    (0.0416666666666666 +
      z *
        (-0.001388888888887411 +
          z *
            (0.00002480158728947673 +
              z * (-2.7557314351390663e-7 + z * (2.087572321298175e-9 + z * -1.1359647557788195e-11)))));
  return 1 - (0.5 * z - rest);
}
