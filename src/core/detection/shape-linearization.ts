import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type SampledTimes, whitenedProducts } from "../noise/whitening.js";
import type { LoadKind, MeterProfile } from "../profile.js";
import { choleskyOfNormal, inverseFromCholesky, solveCholesky } from "../statistics/cholesky.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** Readings with their common columns (constant, line, other loads), row-major with the readings last. */
export interface RefinementProblem {
  readonly sampled: SampledTimes;
  readonly blockS: number;
  readonly columns: Float64Array;
  readonly columnCount: number;
  readonly noise: NoiseParameters;
  readonly onTimes: readonly OnTime[];
  readonly kind: LoadKind | null;
  readonly meter: MeterProfile | undefined;
  readonly timeUncertaintyS: number;
  /** Whether the needle swings, its damping ratio fitted too; it creeps when left out. */
  readonly swings?: boolean;
}

/** Prior mean and standard deviation of a shape parameter; the first three positive ones are held as logarithms. */
export interface Prior {
  readonly mean: number;
  readonly sd: number;
}

/**
 * How many shape parameters there are: ln lag, ln settle, ln polarisation time, inrush, polarisation and, of a needle that
 * swings, its damping ratio. The times follow them.
 */
export function shapeCount({ swings }: Pick<RefinementProblem, "swings">): number {
  return swings === true ? 6 : 5;
}

/** What is known of each parameter before the readings are seen; times in seconds off their marks. */
export function shapePriors(problem: RefinementProblem): readonly Prior[] {
  const settles = problem.kind === null || problem.kind === "heater";
  const lagS = problem.meter?.lagS;
  // A needle that swings lags by twice its damping ratio over its natural angular frequency.
  const swingShare = problem.swings === true ? 2 * USUAL_DAMPING : 1;
  return [
    lagS === undefined
      ? { mean: logarithm(0.35 / swingShare), sd: 0.7 }
      : { mean: logarithm(Math.max(lagS, 0.01) / swingShare), sd: 0.2 },
    { mean: logarithm(2.5), sd: 0.5 },
    { mean: logarithm(15), sd: 0.8 },
    settles ? { mean: 0.5, sd: 0.4 } : { mean: 0, sd: 0.02 },
    { mean: 0.3, sd: 0.15 },
    ...(problem.swings === true ? [{ mean: USUAL_DAMPING, sd: 0.2 }] : []),
    ...problem.onTimes.flatMap(() => [
      { mean: 0, sd: problem.timeUncertaintyS },
      { mean: 0, sd: problem.timeUncertaintyS },
    ]),
  ];
}

/** Damping ratio of an indicating instrument. Common practice, no source: 0.6 to 0.8. */
const USUAL_DAMPING = 0.65;
/** Bounds of the one that is fitted: at 1 a needle creeps. */
const LEAST_DAMPING = 0.15;
const MOST_DAMPING = 0.97;

/** Parameters of a shape, every switching at its time in `onTimes`; left out, at its mark moved by the shape's shift. */
export function startParameters(
  problem: RefinementProblem,
  start: DipShape,
  onTimes?: readonly OnTime[],
): Float64Array {
  const first = shapeCount(problem);
  const parameters = new Float64Array(first + 2 * problem.onTimes.length);
  parameters[0] = logarithm(Math.max(start.lagS, 0.02));
  parameters[1] = logarithm(start.settleS);
  parameters[2] = logarithm(start.polarizationS);
  parameters[3] = start.inrush;
  parameters[4] = start.polarization;
  if (problem.swings === true) parameters[5] = start.dampingRatio ?? USUAL_DAMPING;
  parameters.fill(start.shiftS, first);
  onTimes?.forEach(({ onsetS, releaseS }, k) => {
    parameters[first + 2 * k] = onsetS - problem.onTimes[k].onsetS;
    parameters[first + 2 * k + 1] = releaseS - problem.onTimes[k].releaseS;
  });
  return parameters;
}

/** Shape that the parameters stand for; its shift is 0, for it is in the times. */
export function shapeOf(parameters: Float64Array, swings: boolean): DipShape {
  return {
    ...(swings ? { dampingRatio: Math.min(MOST_DAMPING, Math.max(LEAST_DAMPING, parameters[5])) } : {}),
    shiftS: 0,
    lagS: exponential(parameters[0]),
    inrush: parameters[3],
    settleS: exponential(parameters[1]),
    polarization: parameters[4],
    polarizationS: exponential(parameters[2]),
  };
}

/** Switching times in seconds that the parameters stand for; each release comes after its onset. */
export function timesOf(problem: RefinementProblem, parameters: Float64Array): OnTime[] {
  const first = shapeCount(problem);
  return problem.onTimes.map(({ onsetS, releaseS }, k) => {
    const onset = onsetS + parameters[first + 2 * k];
    return { onsetS: onset, releaseS: Math.max(releaseS + parameters[first + 2 * k + 1], onset + 1e-3) };
  });
}

export interface Linearized {
  /** Steps of the parameters to the minimum of the linearised problem. */
  readonly steps: Float64Array;
  readonly depthV: number;
  /** Covariance of (depth, parameters), row-major. */
  readonly covariance: Float64Array;
  readonly uNoiseV: number;
  /** Cost at the point of linearisation, the common columns fitted. */
  readonly costAt: number;
  /** Cost after the full step, were the problem linear. */
  readonly costAhead: number;
  readonly template: Float64Array;
}

/** Sum of squares at these parameters and this depth, the common columns fitted, with what the priors add. */
export function costOf(
  problem: RefinementProblem,
  priors: readonly Prior[],
  parameters: Float64Array,
  depthV: number,
): number {
  const { sampled, blockS, columns, columnCount, noise } = problem;
  const shape = shapeOf(parameters, problem.swings === true);
  const template = dipTemplate(sampled.timesS, blockS, timesOf(problem, parameters), shape);
  const left = Float64Array.from(columns);
  const last = columnCount - 1;
  for (let i = 0; i < template.length; i++) left[i * columnCount + last] -= depthV * template[i];
  const { gram } = whitenedProducts(sampled, left, columnCount, noise);
  return residualCost(gram, columnCount, last) + penaltyOf(priors, parameters);
}

function penaltyOf(priors: readonly Prior[], parameters: Float64Array): number {
  return priors.reduce((sum, { mean, sd }, k) => sum + squared((parameters[k] - mean) / sd), 0);
}

/** Least squares in the common columns, the depth and small changes of every parameter. */
export function linearized(
  problem: RefinementProblem,
  priors: readonly Prior[],
  parameters: Float64Array,
  depthV: number,
): Linearized {
  const { sampled, blockS, columns, columnCount } = problem;
  const n = sampled.timesS.length;
  const swings = problem.swings === true;
  const shape = shapeOf(parameters, swings);
  const onTimes = timesOf(problem, parameters);
  const template = dipTemplate(sampled.timesS, blockS, onTimes, shape);
  const common = columnCount - 1;
  const count = parameters.length;
  const width = common + 1 + count + 1;
  const design = new Float64Array(n * width);
  for (let i = 0; i < n; i++) {
    for (let c = 0; c < common; c++) design[i * width + c] = columns[i * columnCount + c];
    design[i * width + common] = template[i];
    design[i * width + width - 1] = columns[i * columnCount + common] - depthV * template[i];
  }
  const dips: Float64Array[] = [];
  for (let k = 0; k < count; k++) {
    const h = 0.02;
    const moved = Float64Array.from(parameters);
    moved[k] += h;
    // A switching time touches its own dip alone.
    const dip = k < shapeCount(problem) ? null : (k - shapeCount(problem)) >> 1;
    if (dip !== null && dips[dip] === undefined) dips[dip] = dipTemplate(sampled.timesS, blockS, [onTimes[dip]], shape);
    const before = dip === null ? template : dips[dip];
    const movedTimes = timesOf(problem, moved);
    const after = dipTemplate(
      sampled.timesS,
      blockS,
      dip === null ? movedTimes : [movedTimes[dip]],
      shapeOf(moved, swings),
    );
    for (let i = 0; i < n; i++) design[i * width + common + 1 + k] = (depthV * (after[i] - before[i])) / h;
  }
  const { gram } = whitenedProducts(sampled, design, width, problem.noise);
  const explained = width - 1;
  const normal = new Float64Array(explained * explained);
  const right = new Float64Array(explained);
  for (let a = 0; a < explained; a++) {
    for (let b = 0; b < explained; b++) normal[a * explained + b] = gram[a * width + b];
    right[a] = gram[a * width + explained];
  }
  const penalty = penaltyOf(priors, parameters);
  for (let k = 0; k < count; k++) {
    const at = common + 1 + k;
    const weight = 1 / squared(priors[k].sd);
    normal[at * explained + at] += weight;
    right[at] -= weight * (parameters[k] - priors[k].mean);
  }
  const costAt = residualCost(gram, width, common) + penalty;
  const factor = choleskyOfNormal(normal, explained);
  const solved = solveCholesky(factor, explained, right);
  const inverse = inverseFromCholesky(factor, explained);
  const size = count + 1;
  const covariance = new Float64Array(size * size);
  for (let a = 0; a < size; a++) {
    for (let b = 0; b < size; b++) covariance[a * size + b] = inverse[(common + a) * explained + common + b];
  }
  return {
    steps: solved.subarray(common + 1),
    depthV: depthV + solved[common],
    covariance,
    uNoiseV: noiseUncertainty(gram, width, common),
    costAt,
    costAhead: gram[width * width - 1] + penalty - solved.reduce((sum, value, a) => sum + value * right[a], 0),
    template,
  };
}

/** Weighted sum of squares of the last column, the first `common` ones fitted. */
function residualCost(gram: Float64Array, width: number, common: number): number {
  const factor = choleskyOfNormal(subMatrix(gram, width, common), common);
  const right = Float64Array.from({ length: common }, (_, a) => gram[a * width + width - 1]);
  const solved = solveCholesky(factor, common, right);
  let cost = gram[width * width - 1];
  for (let a = 0; a < common; a++) cost -= solved[a] * right[a];
  return cost;
}

/** Standard uncertainty of the depth beside the common columns alone. */
function noiseUncertainty(gram: Float64Array, width: number, common: number): number {
  const factor = choleskyOfNormal(subMatrix(gram, width, common + 1), common + 1);
  return 1 / factor[(common + 1) * (common + 1) - 1];
}

function subMatrix(gram: Float64Array, width: number, size: number): Float64Array {
  const out = new Float64Array(size * size);
  for (let a = 0; a < size; a++) for (let b = 0; b < size; b++) out[a * size + b] = gram[a * width + b];
  return out;
}
