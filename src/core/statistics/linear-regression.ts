import { applyQ, applyTransposed, factorize, independence, inverseOfGram, solveUpper } from "./householder.js";
import { power, squared } from "./portable-power.js";

export interface LinearFit {
  readonly coefficients: Float64Array;
  readonly standardErrors: Float64Array;
  /** Covariance of the coefficients, row-major. */
  readonly covariance: Float64Array;
  /** Observed less fitted, in the unit of `y` (not weighted). */
  readonly residuals: Float64Array;
  /** Weighted residual sum of squares. */
  readonly residualSquares: number;
  /** Residual standard deviation; NaN without degrees of freedom. */
  readonly residualDeviation: number;
  readonly dof: number;
}

export interface LinearFitOptions {
  /** Inverse variances of the observations up to a common factor; all ones when left out. */
  readonly weights?: Float64Array;
  /**
   * Whether the weights are the inverse variances themselves: then the standard errors come from them alone, and not
   * from the scatter of the residuals. False when left out.
   */
  readonly absolute?: boolean;
}

/**
 * Least-squares fit of `y = design x coefficients`, by QR with scaled columns.
 *
 * `design` is row-major, one row per observation. Source: Golub & Van Loan, Matrix Computations, 5.3.2.
 * @throws RangeError when there are fewer observations than coefficients or the columns depend on each other
 */
export function linearFit(design: Float64Array, y: Float64Array, options: LinearFitOptions = {}): LinearFit {
  const { weights, absolute = false } = options;
  const rowCount = y.length;
  const columnCount = design.length / rowCount;
  const roots = weights?.map(Math.sqrt);
  const scales = columnScales(design, rowCount, columnCount);
  const scaled = new Float64Array(design.length);
  for (let i = 0; i < rowCount; i++) {
    for (let j = 0; j < columnCount; j++) {
      scaled[i * columnCount + j] = (design[i * columnCount + j] / scales[j]) * (roots?.[i] ?? 1);
    }
  }
  const factors = factorize(scaled, rowCount, columnCount);
  if (!(independence(factors) > 1e-14)) {
    throw new RangeError("Cannot fit: the columns of the design must not depend on each other");
  }
  const rotated = roots === undefined ? Float64Array.from(y) : y.map((value, i) => value * roots[i]);
  applyTransposed(factors, rotated);
  const coefficients = solveUpper(factors, rotated).map((value, j) => value / scales[j]);
  const rest = rotated.fill(0, 0, columnCount);
  let residualSquares = 0;
  for (let i = columnCount; i < rowCount; i++) residualSquares += squared(rest[i]);
  applyQ(factors, rest);
  const dof = rowCount - columnCount;
  const variance = absolute ? 1 : residualSquares / dof;
  const covariance = inverseOfGram(factors).map(
    (value, k) => (value * variance) / (scales[Math.floor(k / columnCount)] * scales[k % columnCount]),
  );
  return {
    coefficients,
    standardErrors: Float64Array.from(coefficients, (_, j) => Math.sqrt(covariance[j * columnCount + j])),
    covariance,
    residuals: roots === undefined ? rest : rest.map((value, i) => (roots[i] > 0 ? value / roots[i] : Number.NaN)),
    residualSquares,
    residualDeviation: Math.sqrt(residualSquares / dof),
    dof,
  };
}

/**
 * Fit of a polynomial, coefficients from the constant up; without the constant when `intercept` is false.
 *
 * @throws RangeError as {@link linearFit}
 */
export function polynomialFit(
  x: Float64Array,
  y: Float64Array,
  options: LinearFitOptions & { readonly degree?: number; readonly intercept?: boolean } = {},
): LinearFit {
  const { degree = 1, intercept = true } = options;
  const lowest = intercept ? 0 : 1;
  const columnCount = degree + 1 - lowest;
  const design = new Float64Array(x.length * columnCount);
  x.forEach((value, i) => {
    for (let j = 0; j < columnCount; j++) design[i * columnCount + j] = power(value, j + lowest);
  });
  return linearFit(design, y, options);
}

function columnScales(design: Float64Array, rowCount: number, columnCount: number): Float64Array {
  return Float64Array.from({ length: columnCount }, (_, j) => {
    let most = 0;
    for (let i = 0; i < rowCount; i++) most = Math.max(most, Math.abs(design[i * columnCount + j]));
    return most > 0 ? most : 1;
  });
}
