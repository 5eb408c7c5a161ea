/** Sums of a weighted linear least-squares problem of a few unknowns; symmetric matrix stored in full. */
export interface NormalEquations {
  readonly size: number;
  readonly matrix: Float64Array;
  readonly right: Float64Array;
}

/** Empty sums for `size` unknowns. */
export function emptyEquations(size: number): NormalEquations {
  return { size, matrix: new Float64Array(size * size), right: new Float64Array(size) };
}

/** Adds one equation `row . unknowns = value` with a weight; only the upper triangle is kept. */
export function addEquation(sums: NormalEquations, row: ArrayLike<number>, value: number, weight: number): void {
  const { size, matrix, right } = sums;
  for (let i = 0; i < size; i++) {
    const scaled = weight * row[i]!;
    right[i]! += scaled * value;
    for (let j = i; j < size; j++) matrix[i * size + j]! += scaled * row[j]!;
  }
}

/** A square matrix times a vector. */
export function product(matrix: Float64Array, vector: Float64Array): Float64Array {
  const size = vector.length;
  const result = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) result[i]! += matrix[i * size + j]! * vector[j]!;
  }
  return result;
}

/** The solution and the inverse matrix by Cholesky's method, or null where the unknowns cannot be told apart. */
export function solveEquations(sums: NormalEquations): { solution: Float64Array; inverse: Float64Array } | null {
  const { size } = sums;
  const lower = choleskyFactor(sums);
  if (lower === null) return null;
  const inverse = new Float64Array(size * size);
  const column = new Float64Array(size);
  for (let unit = 0; unit < size; unit++) {
    column.fill(0);
    column[unit] = 1;
    substitute(lower, size, column);
    for (let i = 0; i < size; i++) inverse[i * size + unit] = column[i]!;
  }
  const solution = Float64Array.from(sums.right);
  substitute(lower, size, solution);
  return { solution, inverse };
}

function choleskyFactor(sums: NormalEquations): Float64Array | null {
  const { size, matrix } = sums;
  const lower = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[j * size + i]!;
      for (let k = 0; k < j; k++) sum -= lower[i * size + k]! * lower[j * size + k]!;
      if (i === j) {
        if (!(sum > 1e-12 * matrix[i * size + i]!)) return null;
        lower[i * size + i] = Math.sqrt(sum);
      } else lower[i * size + j] = sum / lower[j * size + j]!;
    }
  }
  return lower;
}

function substitute(lower: Float64Array, size: number, column: Float64Array): void {
  for (let i = 0; i < size; i++) {
    let sum = column[i]!;
    for (let k = 0; k < i; k++) sum -= lower[i * size + k]! * column[k]!;
    column[i] = sum / lower[i * size + i]!;
  }
  for (let i = size - 1; i >= 0; i--) {
    let sum = column[i]!;
    for (let k = i + 1; k < size; k++) sum -= lower[k * size + i]! * column[k]!;
    column[i] = sum / lower[i * size + i]!;
  }
}
