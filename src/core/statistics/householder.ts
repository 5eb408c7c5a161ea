import { rootSumSquares, squared } from "./portable-power.js";

/** QR factorisation of a tall matrix, as {@link factorize} leaves it. */
export interface QrFactors {
  readonly rowCount: number;
  readonly columnCount: number;
  /** Row-major; the Householder vectors below the diagonal, R above it. */
  readonly packed: Float64Array;
  /** Diagonal of R. */
  readonly diagonal: Float64Array;
}

/**
 * Householder QR of a row-major matrix of `rowCount` by `columnCount`, rows at least columns; the input is left alone.
 *
 * Source: Golub & Van Loan, Matrix Computations, algorithm 5.2.1.
 */
export function factorize(matrix: Float64Array, rowCount: number, columnCount: number): QrFactors {
  if (rowCount < columnCount) {
    throw new RangeError(
      `Cannot factorise: at least as many rows as columns are needed, got ${rowCount} x ${columnCount}`,
    );
  }
  const packed = Float64Array.from(matrix);
  const diagonal = new Float64Array(columnCount);
  for (let j = 0; j < columnCount; j++) {
    const norm = columnNorm(packed, columnCount, j, rowCount);
    if (norm === 0) continue;
    const head = packed[j * columnCount + j];
    const pivot = head > 0 ? -norm : norm;
    // v = x - pivot e1, scaled so that v'v/2 = 1 / (its head)
    for (let i = j; i < rowCount; i++) packed[i * columnCount + j] /= -pivot;
    packed[j * columnCount + j] += 1;
    for (let k = j + 1; k < columnCount; k++) {
      let sum = 0;
      for (let i = j; i < rowCount; i++) sum += packed[i * columnCount + j] * packed[i * columnCount + k];
      sum /= packed[j * columnCount + j];
      for (let i = j; i < rowCount; i++) packed[i * columnCount + k] -= sum * packed[i * columnCount + j];
    }
    diagonal[j] = pivot;
  }
  return { rowCount, columnCount, packed, diagonal };
}

/** Length of column `j` from the diagonal down, safe against overflow. */
function columnNorm(packed: Float64Array, columnCount: number, j: number, rowCount: number): number {
  let most = 0;
  for (let i = j; i < rowCount; i++) most = Math.max(most, Math.abs(packed[i * columnCount + j]));
  if (most === 0) return 0;
  let sum = 0;
  for (let i = j; i < rowCount; i++) sum += squared(packed[i * columnCount + j] / most);
  return most * Math.sqrt(sum);
}

/** Q'y, in place. */
export function applyTransposed(factors: QrFactors, y: Float64Array): void {
  for (let j = 0; j < factors.columnCount; j++) reflect(factors, j, y);
}

/** Q y, in place. */
export function applyQ(factors: QrFactors, y: Float64Array): void {
  for (let j = factors.columnCount - 1; j >= 0; j--) reflect(factors, j, y);
}

function reflect({ packed, rowCount, columnCount }: QrFactors, j: number, y: Float64Array): void {
  const head = packed[j * columnCount + j];
  if (head === 0) return;
  let sum = 0;
  for (let i = j; i < rowCount; i++) sum += packed[i * columnCount + j] * y[i];
  sum /= head;
  for (let i = j; i < rowCount; i++) y[i] -= sum * packed[i * columnCount + j];
}

/** Solves `R x = b` for the first entries of b. */
export function solveUpper(factors: QrFactors, b: Float64Array): Float64Array {
  const { packed, columnCount, diagonal } = factors;
  const x = new Float64Array(columnCount);
  for (let i = columnCount - 1; i >= 0; i--) {
    let sum = b[i];
    for (let k = i + 1; k < columnCount; k++) sum -= packed[i * columnCount + k] * x[k];
    x[i] = sum / diagonal[i];
  }
  return x;
}

/** Solves `R' x = b`. */
export function solveUpperTransposed(factors: QrFactors, b: Float64Array): Float64Array {
  const { packed, columnCount, diagonal } = factors;
  const x = new Float64Array(columnCount);
  for (let i = 0; i < columnCount; i++) {
    let sum = b[i];
    for (let k = 0; k < i; k++) sum -= packed[k * columnCount + i] * x[k];
    x[i] = sum / diagonal[i];
  }
  return x;
}

/** `(A'A)^-1 = R^-1 R^-T`, row-major. */
export function inverseOfGram(factors: QrFactors): Float64Array {
  const n = factors.columnCount;
  const inverse = new Float64Array(n * n);
  const unit = new Float64Array(n);
  for (let c = 0; c < n; c++) {
    unit.fill(0);
    unit[c] = 1;
    const column = solveUpper(factors, solveUpperTransposed(factors, unit));
    for (let r = 0; r < n; r++) inverse[r * n + c] = column[r];
  }
  return inverse;
}

/**
 * Smallest diagonal of R over the norm of its own column: near zero where a column is (almost) a combination of the
 * ones before it.
 */
export function independence({ packed, columnCount, diagonal }: QrFactors): number {
  let least = Number.POSITIVE_INFINITY;
  for (let j = 0; j < columnCount; j++) {
    let norm = Math.abs(diagonal[j]);
    for (let i = 0; i < j; i++) norm = rootSumSquares(norm, packed[i * columnCount + j]);
    least = Math.min(least, norm === 0 ? 0 : Math.abs(diagonal[j]) / norm);
  }
  return least;
}
