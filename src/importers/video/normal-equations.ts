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

/** How many equations `addEquations` takes at once: few enough that they stay in the processor's nearest memory. */
export const EQUATION_BLOCK = 128;

/**
 * Room for a block of equations of `size` unknowns, two more than a multiple of three. The values are the first column, the
 * unknowns' factors the others, each `EQUATION_BLOCK` long; the root of each equation's weight is multiplied in.
 */
export function equationColumns(size: number): Float64Array {
  return new Float64Array((size + 1) * EQUATION_BLOCK);
}

/** Adds the first `count` equations of a block. */
export function addEquations(sums: NormalEquations, columns: Float64Array, count: number): void {
  const { size, matrix, right } = sums;
  for (let i = 0; i <= size; i += 3) {
    for (let j = i; j <= size; j += 3) {
      blockProducts(columns, i * EQUATION_BLOCK, j * EQUATION_BLOCK, count);
      for (let part = 0; part < 9; part++) {
        const row = i + Math.floor(part / 3) - 1;
        const column = j + (part % 3) - 1;
        if (column < 0) continue;
        if (row < 0) right[column]! += products[part]!;
        else matrix[row * size + column]! += products[part]!;
      }
    }
  }
}

const products = new Float64Array(9);

/** Sums of products of three columns with three: nine sums that need not wait for each other. */
function blockProducts(columns: Float64Array, first: number, second: number, count: number): void {
  let [p00, p01, p02, p10, p11, p12, p20, p21, p22] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  for (let at = 0; at < count; at++) {
    const a0 = columns[first + at]!;
    const a1 = columns[first + EQUATION_BLOCK + at]!;
    const a2 = columns[first + 2 * EQUATION_BLOCK + at]!;
    const b0 = columns[second + at]!;
    const b1 = columns[second + EQUATION_BLOCK + at]!;
    const b2 = columns[second + 2 * EQUATION_BLOCK + at]!;
    p00 += a0 * b0;
    p01 += a0 * b1;
    p02 += a0 * b2;
    p10 += a1 * b0;
    p11 += a1 * b1;
    p12 += a1 * b2;
    p20 += a2 * b0;
    p21 += a2 * b1;
    p22 += a2 * b2;
  }
  products.set([p00, p01, p02, p10, p11, p12, p20, p21, p22]);
}

/** Adds to the right side only what `addEquations` would, for a matrix that is kept. */
export function addRightSides({ size, right }: NormalEquations, columns: Float64Array, count: number): void {
  for (let i = 0; i < size; i++) {
    const column = (i + 1) * EQUATION_BLOCK;
    let sum = 0;
    for (let at = 0; at < count; at++) sum += columns[at]! * columns[column + at]!;
    right[i]! += sum;
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
