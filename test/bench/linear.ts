import { fourierTransform, powerOfTwoAtLeast } from "./fourier.js";

/** Lower Cholesky factor of a dense symmetric positive definite matrix, rows as arrays. */
export function choleskyFactor(matrix: readonly Float64Array[]): Float64Array[] {
  const factor: Float64Array[] = [];
  for (let i = 0; i < matrix.length; i++) {
    const row = new Float64Array(i + 1);
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i][j];
      const other = j === i ? row : factor[j];
      for (let k = 0; k < j; k++) sum -= row[k] * other[k];
      if (j < i) {
        row[j] = sum / factor[j][j];
      } else {
        if (sum <= 0) throw new RangeError(`Cannot factor: the matrix is not positive definite at row ${i}`);
        row[i] = Math.sqrt(sum);
      }
    }
    factor.push(row);
  }
  return factor;
}

/** Solves `factor x = column`, factor lower triangular. */
export function forwardSolve(factor: readonly Float64Array[], column: Float64Array): Float64Array {
  const solution = new Float64Array(column.length);
  for (let i = 0; i < column.length; i++) {
    const row = factor[i];
    let sum = column[i];
    for (let k = 0; k < i; k++) sum -= row[k] * solution[k];
    solution[i] = sum / row[i];
  }
  return solution;
}

export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

/** Orthonormal basis of the columns, modified Gram-Schmidt with one repetition; dependent columns are left out. */
export function orthonormalBasis(columns: readonly Float64Array[]): Float64Array[] {
  const basis: Float64Array[] = [];
  for (const column of columns) {
    const before = Math.sqrt(dot(column, column));
    const rest = withoutSpan(basis, withoutSpan(basis, column));
    const length = Math.sqrt(dot(rest, rest));
    if (length > 1e-9 * before) basis.push(rest.map((value) => value / length));
  }
  return basis;
}

/** The part of the column that is orthogonal to the orthonormal basis. */
export function withoutSpan(basis: readonly Float64Array[], column: Float64Array): Float64Array {
  const rest = Float64Array.from(column);
  for (const direction of basis) {
    const share = dot(direction, rest);
    for (let i = 0; i < rest.length; i++) rest[i] -= share * direction[i];
  }
  return rest;
}

/**
 * Inverse Cholesky factor of a Toeplitz covariance applied to columns: each row is a normalized prediction error.
 *
 * Durbin's recursion, quadratic cost. Source: G. H. Golub, C. F. Van Loan, Matrix Computations, "Toeplitz systems"
 * (from memory).
 */
export function whitenToeplitz(autocovariance: Float64Array, columns: readonly Float64Array[]): Float64Array[] {
  const n = columns[0].length;
  const white = columns.map(() => new Float64Array(n));
  let predictor = new Float64Array(n);
  let next = new Float64Array(n);
  let variance = autocovariance[0];
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      let reflection = autocovariance[i];
      for (let k = 0; k < i - 1; k++) reflection -= predictor[k] * autocovariance[i - 1 - k];
      reflection /= variance;
      for (let k = 0; k < i - 1; k++) next[k] = predictor[k] - reflection * predictor[i - 2 - k];
      next[i - 1] = reflection;
      [predictor, next] = [next, predictor];
      variance *= 1 - reflection * reflection;
    }
    const scale = 1 / Math.sqrt(variance);
    for (let c = 0; c < columns.length; c++) {
      const column = columns[c];
      let error = column[i];
      for (let k = 0; k < i; k++) error -= predictor[k] * column[i - 1 - k];
      white[c][i] = error * scale;
    }
  }
  return white;
}

/** Solves Toeplitz systems by conjugate gradients with a circulant preconditioner (T. Chan's, from memory). */
export class ToeplitzSolver {
  private readonly size: number;
  private readonly embedded: Float64Array;
  private readonly circulant: Float64Array;
  private readonly circulantSize: number;

  constructor(private readonly autocovariance: Float64Array) {
    const n = autocovariance.length;
    this.size = powerOfTwoAtLeast(2 * n);
    this.embedded = spectrum(this.size, (k) => (k < n ? autocovariance[k] : 0));
    this.circulantSize = this.size;
    // A smooth taper of the covariance keeps the preconditioner positive.
    this.circulant = spectrum(this.size, (k) => (k < n ? autocovariance[k] * (1 - k / n) : 0));
  }

  multiply(column: Float64Array): Float64Array {
    return this.filter(column, this.embedded, false);
  }

  solve(column: Float64Array, relativeError = 1e-9): Float64Array {
    const n = column.length;
    const solution = new Float64Array(n);
    const residual = Float64Array.from(column);
    let direction = this.filter(residual, this.circulant, true);
    let prepared: Float64Array = direction;
    let product = dot(residual, prepared);
    const goal = relativeError ** 2 * dot(column, column);
    for (let round = 0; round < 200; round++) {
      const image = this.multiply(direction);
      const step = product / dot(direction, image);
      for (let i = 0; i < n; i++) {
        solution[i] += step * direction[i];
        residual[i] -= step * image[i];
      }
      if (dot(residual, residual) < goal) return solution;
      prepared = this.filter(residual, this.circulant, true);
      const following = dot(residual, prepared);
      const turned = new Float64Array(n);
      for (let i = 0; i < n; i++) turned[i] = prepared[i] + (following / product) * direction[i];
      direction = turned;
      product = following;
    }
    throw new RangeError(`Cannot solve a Toeplitz system of ${this.autocovariance.length}: no convergence`);
  }

  private filter(column: Float64Array, response: Float64Array, inverse: boolean): Float64Array {
    const real = new Float64Array(this.circulantSize);
    const imaginary = new Float64Array(this.circulantSize);
    real.set(column);
    fourierTransform(real, imaginary);
    for (let j = 0; j < this.size; j++) {
      const factor = inverse ? 1 / response[j] : response[j];
      real[j] *= factor;
      imaginary[j] *= -factor;
    }
    fourierTransform(real, imaginary);
    return real.slice(0, column.length).map((value) => value / this.size);
  }
}

/** Eigenvalues of the symmetric circulant with the given first half column. */
function spectrum(size: number, covariance: (lag: number) => number): Float64Array {
  const real = new Float64Array(size);
  for (let k = 0; k <= size / 2; k++) {
    real[k] = covariance(k);
    if (k > 0 && k < size / 2) real[size - k] = real[k];
  }
  fourierTransform(real, new Float64Array(size));
  return real;
}
