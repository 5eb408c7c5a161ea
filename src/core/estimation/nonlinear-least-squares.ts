import {
  applyTransposed,
  factorize,
  independence,
  inverseOfGram,
  type QrFactors,
  solveUpper,
} from "../statistics/householder.js";
import { squared } from "../statistics/portable-power.js";
import { dampedStep, scaledNorm } from "./damped-step.js";

/** What is to be fitted. Residuals are observed less modelled, divided by their uncertainty where that is known. */
export interface NonlinearProblem {
  /** Residuals at the parameters, written to `out`. */
  readonly residuals: (parameters: Float64Array, out: Float64Array) => void;
  readonly residualCount: number;
  readonly start: Float64Array;
  /** Derivatives of the residuals by the parameters, row-major; by central differences when left out. */
  readonly jacobian?: (parameters: Float64Array, out: Float64Array) => void;
}

export interface NonlinearOptions {
  /** Most evaluations of the Jacobian; 1000 when left out. */
  readonly mostSteps?: number;
  /** Whether the residuals are in units of their uncertainty: then their scatter does not enter the standard errors. */
  readonly absolute?: boolean;
}

export type NonlinearFit = ConvergedFit | FailedFit;

export interface ConvergedFit {
  readonly converged: true;
  readonly parameters: Float64Array;
  readonly standardErrors: Float64Array;
  /** Covariance of the parameters, row-major. */
  readonly covariance: Float64Array;
  readonly residualSquares: number;
  readonly residualDeviation: number;
  readonly stepCount: number;
}

/** `too-many-steps`; `flat`: the residuals do not depend on some combination of the parameters; `not-finite`. */
export interface FailedFit {
  readonly converged: false;
  readonly why: "too-many-steps" | "flat" | "not-finite" | "not-stationary";
  readonly parameters: Float64Array;
  readonly residualSquares: number;
}

/** Relative change of the sum of squares, actual and predicted, below which the fit is done. */
const SQUARES_TOLERANCE = 1e-15;
/** Relative step below which the fit is done. */
const STEP_TOLERANCE = 1e-13;
/** At a minimum a further step would take off at most this share of the sum of squares ... */
const STATIONARY_SHARE = 1e-10;
/** ... or would change no parameter by more than this share of itself. */
const STATIONARY_STEP = 1e-8;
/** Cube root of the rounding unit: best reach of a central difference. */
const DIFFERENCE_SHARE = 6e-6;
/** Least part of a column of the Jacobian, in units of its length, that the columns before it do not explain. */
const INDEPENDENCE = 1e-11;

/**
 * Nonlinear least squares by the Levenberg-Marquardt method in a scaled trust region.
 *
 * Answers `converged: false` rather than a doubtful minimum: after the last step a further one must gain nothing, and the
 * columns of the Jacobian must be independent.
 *
 * Source: More, in: Numerical Analysis, Lecture Notes in Mathematics 630 (1978) 105-116 (from memory).
 */
export function nonlinearLeastSquares(problem: NonlinearProblem, options: NonlinearOptions = {}): NonlinearFit {
  const { start } = problem;
  const mostSteps = options.mostSteps ?? 1000;
  let parameters = Float64Array.from(start);
  let residuals = evaluate(problem, parameters);
  let squares = sumOfSquares(residuals);
  if (!Number.isFinite(squares)) return failed("not-finite", parameters, squares);
  const scales = new Float64Array(start.length);
  let linear = linearize(problem, parameters, residuals, scales);
  let radius = firstRadius(parameters, scales);

  for (let stepCount = 0; stepCount < mostSteps; ) {
    if (linear === null) return failed("not-finite", parameters, squares);
    const { step, damping } = dampedStep(linear.factors, linear.rotated, scales, radius);
    const length = scaledNorm(step, scales);
    if (!Number.isFinite(length)) return failed("flat", parameters, squares);
    const trial = parameters.map((value, j) => value + step[j]);
    const trialResiduals = evaluate(problem, trial);
    const trialSquares = sumOfSquares(trialResiduals);
    const outcome = judgeStep(linear.factors, step, damping * length * length, squares, trialSquares);
    radius = nextRadius(radius, length, damping, outcome);
    const accepted = outcome.gain >= 1e-4;
    if (accepted) {
      parameters = trial;
      residuals = trialResiduals;
      squares = trialSquares;
      stepCount += 1;
    }
    const narrow = radius <= STEP_TOLERANCE * scaledNorm(parameters, scales);
    if (narrow || squares === 0 || isSettled(outcome)) {
      return finish(problem, parameters, residuals, stepCount, options.absolute ?? false);
    }
    if (accepted) linear = linearize(problem, parameters, residuals, scales);
  }
  return failed("too-many-steps", parameters, squares);
}

/** QR factors of the Jacobian and `Q'f`; null where a derivative is not finite. Lets the scales grow. */
function linearize(
  problem: NonlinearProblem,
  parameters: Float64Array,
  residuals: Float64Array,
  scales: Float64Array,
): { factors: QrFactors; rotated: Float64Array } | null {
  const jacobian = new Float64Array(problem.residualCount * parameters.length);
  evaluateJacobian(problem, parameters, jacobian);
  if (!jacobian.every(Number.isFinite)) return null;
  growScales(jacobian, scales, parameters.length);
  const factors = factorize(jacobian, problem.residualCount, parameters.length);
  const rotated = Float64Array.from(residuals);
  applyTransposed(factors, rotated);
  return { factors, rotated };
}

function failed(why: FailedFit["why"], parameters: Float64Array, residualSquares: number): FailedFit {
  return { converged: false, why, parameters, residualSquares };
}

/** First radius: a hundred times the scaled length of the start. */
function firstRadius(parameters: Float64Array, scales: Float64Array): number {
  return 100 * (scaledNorm(parameters, scales) || 1);
}

interface StepOutcome {
  /** Actual and predicted decrease of the sum of squares, as shares of it. */
  readonly reduction: number;
  readonly predicted: number;
  /** Their ratio. */
  readonly gain: number;
  /** Half the directional derivative, as a share of the sum of squares; negative. */
  readonly slope: number;
}

function isSettled({ reduction, predicted, gain }: StepOutcome): boolean {
  return Math.abs(reduction) <= SQUARES_TOLERANCE && predicted <= SQUARES_TOLERANCE && gain <= 2;
}

function judgeStep(
  factors: QrFactors,
  step: Float64Array,
  dampedSquare: number,
  squares: number,
  trialSquares: number,
): StepOutcome {
  const { packed, columnCount, diagonal } = factors;
  let linear = 0;
  for (let i = 0; i < columnCount; i++) {
    let sum = diagonal[i] * step[i];
    for (let j = i + 1; j < columnCount; j++) sum += packed[i * columnCount + j] * step[j];
    linear += sum * sum;
  }
  const reduction = trialSquares < 100 * squares ? 1 - trialSquares / squares : -1;
  const predicted = (linear + 2 * dampedSquare) / squares;
  return {
    reduction,
    predicted,
    gain: predicted === 0 ? 0 : reduction / predicted,
    slope: -(linear + dampedSquare) / squares,
  };
}

function nextRadius(radius: number, length: number, damping: number, outcome: StepOutcome): number {
  const { reduction, gain, slope } = outcome;
  if (gain <= 0.25) {
    const factor = reduction >= 0 ? 0.5 : (0.5 * slope) / (slope + 0.5 * reduction);
    return (reduction === -1 || !(factor >= 0.1) ? 0.1 : factor) * Math.min(radius, 10 * length);
  }
  return damping === 0 || gain >= 0.75 ? 2 * length : radius;
}

function finish(
  problem: NonlinearProblem,
  parameters: Float64Array,
  residuals: Float64Array,
  stepCount: number,
  absolute: boolean,
): NonlinearFit {
  const { residualCount } = problem;
  const count = parameters.length;
  const squares = sumOfSquares(residuals);
  const jacobian = new Float64Array(residualCount * count);
  evaluateJacobian(problem, parameters, jacobian);
  if (!jacobian.every(Number.isFinite)) return failed("not-finite", parameters, squares);
  const factors = factorize(jacobian, residualCount, count);
  if (!(independence(factors) > INDEPENDENCE)) return failed("flat", parameters, squares);
  const rotated = Float64Array.from(residuals);
  applyTransposed(factors, rotated);
  const share = sumOfSquares(rotated.subarray(0, count)) / (squares || 1);
  const further = solveUpper(factors, rotated);
  const small = further.every((value, j) => Math.abs(value) <= STATIONARY_STEP * Math.abs(parameters[j]));
  if (share > STATIONARY_SHARE && !small) return failed("not-stationary", parameters, squares);
  const variance = absolute ? 1 : squares / (residualCount - count);
  const covariance = inverseOfGram(factors).map((value) => value * variance);
  return {
    converged: true,
    parameters,
    standardErrors: parameters.map((_, j) => Math.sqrt(covariance[j * count + j])),
    covariance,
    residualSquares: squares,
    residualDeviation: Math.sqrt(squares / (residualCount - count)),
    stepCount,
  };
}

function evaluate(problem: NonlinearProblem, parameters: Float64Array): Float64Array {
  const out = new Float64Array(problem.residualCount);
  problem.residuals(parameters, out);
  return out;
}

function evaluateJacobian(problem: NonlinearProblem, parameters: Float64Array, out: Float64Array): void {
  if (problem.jacobian !== undefined) {
    problem.jacobian(parameters, out);
    return;
  }
  const count = parameters.length;
  const shifted = Float64Array.from(parameters);
  for (let j = 0; j < count; j++) {
    const reach = DIFFERENCE_SHARE * (Math.abs(parameters[j]) || 1);
    shifted[j] = parameters[j] + reach;
    const above = evaluate(problem, shifted);
    const up = shifted[j];
    shifted[j] = parameters[j] - reach;
    const below = evaluate(problem, shifted);
    const span = up - shifted[j];
    shifted[j] = parameters[j];
    for (let i = 0; i < problem.residualCount; i++) out[i * count + j] = (above[i] - below[i]) / span;
  }
}

/** Lengths of the columns, never to shrink during a fit. */
function growScales(jacobian: Float64Array, scales: Float64Array, count: number): void {
  for (let j = 0; j < count; j++) {
    let square = 0;
    for (let k = j; k < jacobian.length; k += count) square += squared(jacobian[k]);
    const length = Math.sqrt(square);
    scales[j] = Math.max(scales[j], length, scales[j] === 0 && length === 0 ? 1 : 0);
  }
}

function sumOfSquares(values: Float64Array): number {
  let sum = 0;
  for (const value of values) sum += value * value;
  return sum;
}
