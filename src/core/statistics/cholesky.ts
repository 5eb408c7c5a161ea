import { logarithm } from "./portable-exponential.js";
import { squared } from "./portable-power.js";

/**
 * Replaces the lower triangle of a symmetric positive definite matrix (row-major, n x n) by its Cholesky factor.
 *
 * Returns false, with the matrix spoilt, when it is not positive definite.
 */
export function choleskyInPlace(matrix: Float64Array, n: number): boolean {
  for (let j = 0; j < n; j++) {
    let diagonal = matrix[j * n + j];
    const original = diagonal;
    for (let k = 0; k < j; k++) diagonal -= squared(matrix[j * n + k]);
    if (!(diagonal > original * 1e-14)) return false;
    const root = Math.sqrt(diagonal);
    matrix[j * n + j] = root;
    for (let i = j + 1; i < n; i++) {
      let sum = matrix[i * n + j];
      for (let k = 0; k < j; k++) sum -= matrix[i * n + k] * matrix[j * n + k];
      matrix[i * n + j] = sum / root;
    }
  }
  return true;
}

/**
 * Cholesky factor of a normal matrix. Columns can be all but one another's sum; then the least part of each is held back
 * that makes them distinct.
 */
export function choleskyOfNormal(matrix: Float64Array, n: number): Float64Array {
  for (const held of [0, 1e-10, 1e-8, 1e-6, 1e-4]) {
    const factor = Float64Array.from(matrix);
    for (let a = 0; a < n; a++) factor[a * n + a] += held * matrix[a * n + a] + (held > 0 ? Number.MIN_VALUE : 0);
    if (choleskyInPlace(factor, n)) return factor;
  }
  throw new RangeError("Cannot fit the columns: one of them is not finite");
}

/** Solves `A x = b` from the factor that {@link choleskyInPlace} left. */
export function solveCholesky(factor: Float64Array, n: number, b: Float64Array): Float64Array {
  const x = forwardSubstitute(factor, n, b);
  for (let i = n - 1; i >= 0; i--) {
    let sum = x[i];
    for (let k = i + 1; k < n; k++) sum -= factor[k * n + i] * x[k];
    x[i] = sum / factor[i * n + i];
  }
  return x;
}

/** Solves `L x = b` for the lower factor L. */
export function forwardSubstitute(factor: Float64Array, n: number, b: Float64Array): Float64Array {
  const x = Float64Array.from(b);
  for (let i = 0; i < n; i++) {
    let sum = x[i];
    for (let k = 0; k < i; k++) sum -= factor[i * n + k] * x[k];
    x[i] = sum / factor[i * n + i];
  }
  return x;
}

/** `ln det A` from the factor of A. */
export function logDeterminantOfCholesky(factor: Float64Array, n: number): number {
  let sum = 0;
  for (let k = 0; k < n; k++) sum += logarithm(factor[k * n + k]);
  return 2 * sum;
}

/** Inverse of A (row-major) from the factor of A. */
export function inverseFromCholesky(factor: Float64Array, n: number): Float64Array {
  const inverse = new Float64Array(n * n);
  const unit = new Float64Array(n);
  for (let c = 0; c < n; c++) {
    unit.fill(0);
    unit[c] = 1;
    const column = solveCholesky(factor, n, unit);
    for (let r = 0; r < n; r++) inverse[r * n + c] = column[r];
  }
  return inverse;
}

/**
 * Low-rank factor of a symmetric positive semidefinite matrix: `A ~ F F'` with F row-major, n x rank.
 *
 * Stops when no diagonal element is left above `tolerance`. Source: Higham 1990, pivoted Cholesky (from memory).
 */
export function pivotedCholesky(
  matrix: Float64Array,
  n: number,
  tolerance: number,
): { readonly factor: Float64Array; readonly rank: number } {
  const left = Float64Array.from({ length: n }, (_, k) => matrix[k * n + k]);
  const columns: Float64Array[] = [];
  while (columns.length < n) {
    let pivot = 0;
    for (let k = 1; k < n; k++) if (left[k] > left[pivot]) pivot = k;
    if (left[pivot] <= tolerance) break;
    const root = Math.sqrt(left[pivot]);
    const column = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let value = matrix[i * n + pivot];
      for (const earlier of columns) value -= earlier[i] * earlier[pivot];
      column[i] = value / root;
    }
    for (let i = 0; i < n; i++) left[i] -= squared(column[i]);
    left[pivot] = 0;
    columns.push(column);
  }
  const rank = columns.length;
  const factor = new Float64Array(n * rank);
  for (let i = 0; i < n; i++) for (let k = 0; k < rank; k++) factor[i * rank + k] = columns[k][i];
  return { factor, rank };
}
