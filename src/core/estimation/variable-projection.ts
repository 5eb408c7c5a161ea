import {
  applyQ,
  applyTransposed,
  factorize,
  independence,
  inverseOfGram,
  solveUpper,
  solveUpperTransposed,
} from "../statistics/householder.js";
import { type FailedFit, nonlinearLeastSquares } from "./nonlinear-least-squares.js";

/** A model that is linear in some coefficients once the others, the shape parameters, are fixed. */
export interface SeparableProblem {
  readonly y: Float64Array;
  /** Number of linear coefficients. */
  readonly columnCount: number;
  /** Writes the columns for the shape parameters to `out`, row-major, one row per observation. */
  readonly columns: (shape: Float64Array, out: Float64Array) => void;
  readonly start: Float64Array;
  /** Inverse variances of the observations up to a factor; all ones when left out. */
  readonly weights?: Float64Array;
}

export interface SeparableOptions {
  readonly mostSteps?: number;
  /** Whether the weights are the inverse variances themselves. */
  readonly absolute?: boolean;
}

export type SeparableFit =
  | {
      readonly converged: true;
      readonly shape: Float64Array;
      readonly coefficients: Float64Array;
      /** Standard errors of the coefficients, then of the shape parameters. */
      readonly standardErrors: Float64Array;
      /** Covariance in the same order, row-major. */
      readonly covariance: Float64Array;
      readonly residualSquares: number;
      readonly residualDeviation: number;
    }
  | FailedFit;

/**
 * Fits the shape parameters alone, the linear coefficients following as the best ones at every step; needs no start values
 * for them.
 *
 * Source: Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432 (from memory): derivative of the projected residuals.
 */
export function variableProjection(problem: SeparableProblem, options: SeparableOptions = {}): SeparableFit {
  const projection = new Projection(problem);
  const fit = nonlinearLeastSquares(
    {
      start: problem.start,
      residualCount: problem.y.length,
      residuals: (shape, out) => projection.residuals(shape, out),
      jacobian: (shape, out) => projection.jacobian(shape, out),
    },
    options.mostSteps === undefined ? {} : { mostSteps: options.mostSteps },
  );
  return fit.converged ? projection.describe(fit.parameters, options.absolute ?? false) : fit;
}

class Projection {
  private readonly rowCount: number;
  private readonly roots: Float64Array | undefined;

  constructor(private readonly problem: SeparableProblem) {
    this.rowCount = problem.y.length;
    this.roots = problem.weights?.map(Math.sqrt);
  }

  residuals(shape: Float64Array, out: Float64Array): void {
    out.set(this.project(shape).residuals);
  }

  /** `-(P D c + pinv' D' r)` for every shape parameter, with D the derivative of the columns by it. */
  jacobian(shape: Float64Array, out: Float64Array): void {
    const { factors, coefficients, residuals } = this.project(shape);
    const { columnCount } = this.problem;
    for (let j = 0; j < shape.length; j++) {
      const change = this.derivative(shape, j);
      const moved = multiply(change, coefficients);
      applyTransposed(factors, moved);
      const turned = new Float64Array(columnCount);
      for (let i = 0; i < this.rowCount; i++) {
        for (let k = 0; k < columnCount; k++) turned[k] += change[i * columnCount + k] * residuals[i];
      }
      moved.set(solveUpperTransposed(factors, turned));
      applyQ(factors, moved);
      for (let i = 0; i < this.rowCount; i++) out[i * shape.length + j] = -moved[i];
    }
  }

  describe(shape: Float64Array, absolute: boolean): SeparableFit {
    const { coefficients, residuals, columns } = this.project(shape);
    const { columnCount } = this.problem;
    const count = columnCount + shape.length;
    const full = new Float64Array(this.rowCount * count);
    for (let i = 0; i < this.rowCount; i++) {
      for (let k = 0; k < columnCount; k++) full[i * count + k] = columns[i * columnCount + k];
    }
    for (let j = 0; j < shape.length; j++) {
      const moved = multiply(this.derivative(shape, j), coefficients);
      for (let i = 0; i < this.rowCount; i++) full[i * count + columnCount + j] = moved[i];
    }
    const residualSquares = residuals.reduce((sum, value) => sum + value * value, 0);
    const factors = factorize(full, this.rowCount, count);
    if (!(independence(factors) > 1e-11)) {
      return { converged: false, why: "flat", parameters: shape, residualSquares };
    }
    const variance = residualSquares / (this.rowCount - count);
    const covariance = inverseOfGram(factors).map((value) => value * (absolute ? 1 : variance));
    return {
      converged: true,
      shape,
      coefficients,
      standardErrors: Float64Array.from({ length: count }, (_, k) => Math.sqrt(covariance[k * count + k])),
      covariance,
      residualSquares,
      residualDeviation: Math.sqrt(variance),
    };
  }

  private project(shape: Float64Array) {
    const columns = this.weightedColumns(shape);
    const factors = factorize(columns, this.rowCount, this.problem.columnCount);
    const { y } = this.problem;
    const residuals = this.roots === undefined ? Float64Array.from(y) : y.map((value, i) => value * this.roots![i]);
    applyTransposed(factors, residuals);
    const coefficients = solveUpper(factors, residuals);
    residuals.fill(0, 0, this.problem.columnCount);
    applyQ(factors, residuals);
    return { factors, coefficients, residuals, columns };
  }

  private weightedColumns(shape: Float64Array): Float64Array {
    const { columnCount, columns } = this.problem;
    const out = new Float64Array(this.rowCount * columnCount);
    columns(shape, out);
    if (this.roots !== undefined) {
      for (let k = 0; k < out.length; k++) out[k] *= this.roots[Math.floor(k / columnCount)];
    }
    return out;
  }

  private derivative(shape: Float64Array, j: number): Float64Array {
    const reach = 6e-6 * (Math.abs(shape[j]) || 1);
    const above = this.weightedColumns(shape.map((value, k) => (k === j ? value + reach : value)));
    const below = this.weightedColumns(shape.map((value, k) => (k === j ? value - reach : value)));
    const span = shape[j] + reach - (shape[j] - reach);
    return above.map((value, k) => (value - below[k]) / span);
  }
}

/** Row-major matrix times vector. */
function multiply(matrix: Float64Array, vector: Float64Array): Float64Array {
  const count = vector.length;
  return Float64Array.from({ length: matrix.length / count }, (_, i) => {
    let sum = 0;
    for (let k = 0; k < count; k++) sum += matrix[i * count + k] * vector[k];
    return sum;
  });
}
