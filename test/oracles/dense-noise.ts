import type { NoiseParameters } from "../../src/core/noise/noise-parameters.js";

/** A square matrix, row by row. */
export type Matrix = readonly (readonly number[])[];

/**
 * Covariance of the readings, written down entry by entry: nothing here is recursive.
 *
 * Ornstein-Uhlenbeck `c^2 exp(-|s - t| / tau)`, Wiener process from the first reading `w^2 min(s, t)`, its integral
 * `b^2 m^2 (3 M - m) / 6` with m the smaller and M the larger of the two times, and white noise on the diagonal.
 */
export function denseCovariance(timesS: Float64Array, counts: Float64Array, noise: NoiseParameters): number[][] {
  return Array.from(timesS, (ti, i) =>
    Array.from(timesS, (tj, j) => {
      const s = Math.min(ti, tj) - timesS[0];
      const t = Math.max(ti, tj) - timesS[0];
      const coloured = noise.colouredV ** 2 * Math.exp(-(t - s) / noise.colouredTimeS);
      const walk = noise.walkVPerSqrtS ** 2 * s;
      const bend = (noise.bendVPerS15 ** 2 * s * s * (3 * t - s)) / 6;
      return coloured + walk + bend + (i === j ? noise.whiteV ** 2 / counts[i] : 0);
    }),
  );
}

/** The part of {@link denseCovariance} that is the slow level: Wiener process and its integral. */
export function denseLevelCovariance(timesS: Float64Array, noise: NoiseParameters): number[][] {
  return denseCovariance(timesS, new Float64Array(timesS.length).fill(1), { ...noise, whiteV: 0, colouredV: 0 });
}

/** Gauss-Jordan elimination with row pivoting: the inverse, and `ln |det|`. */
export function invert(matrix: Matrix): { readonly inverse: number[][]; readonly logDeterminant: number } {
  const n = matrix.length;
  const rows = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))]);
  let logDeterminant = 0;
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(rows[r]![c]!) > Math.abs(rows[pivot]![c]!)) pivot = r;
    [rows[c], rows[pivot]] = [rows[pivot]!, rows[c]!];
    const head = rows[c]![c]!;
    logDeterminant += Math.log(Math.abs(head));
    rows[c] = rows[c]!.map((value) => value / head);
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const factor = rows[r]![c]!;
      rows[r] = rows[r]!.map((value, k) => value - factor * rows[c]![k]!);
    }
  }
  return { inverse: rows.map((row) => row.slice(n)), logDeterminant };
}

export function times(matrix: Matrix, vector: ArrayLike<number>): number[] {
  return matrix.map((row) => row.reduce((sum, value, k) => sum + value * vector[k]!, 0));
}

export function inner(a: ArrayLike<number>, b: ArrayLike<number>): number {
  return Array.from(a).reduce((sum, value, k) => sum + value * b[k]!, 0);
}

/** Textbook generalised least squares of `y` on columns: `(X' V^-1 X)^-1 X' V^-1 y`, and that inverse. */
export function generalizedLeastSquares(covariance: Matrix, columns: Matrix, y: ArrayLike<number>) {
  const { inverse, logDeterminant } = invert(covariance);
  const weighted = columns.map((column) => times(inverse, column));
  const information = weighted.map((row) => columns.map((column) => inner(row, column)));
  const { inverse: estimateCovariance, logDeterminant: logInformation } = invert(information);
  const estimates = times(
    estimateCovariance,
    weighted.map((row) => inner(row, y)),
  );
  const residuals = Array.from(
    y,
    (value, i) => value - columns.reduce((sum, column, k) => sum + column[i]! * estimates[k]!, 0),
  );
  const residualSquares = inner(residuals, times(inverse, residuals));
  return { estimates, estimateCovariance, residuals, residualSquares, logDeterminant, logInformation };
}
