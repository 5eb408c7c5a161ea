import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type SampledTimes, whitenedProducts } from "../noise/whitening.js";
import type { LoadKind, MeterProfile } from "../profile.js";
import { choleskyInPlace, inverseFromCholesky, solveCholesky } from "../statistics/cholesky.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** Depth of a load's dips with the shape and every switching time fitted to the readings. */
export interface RefinedDepth {
  readonly depthV: number;
  readonly uDepthV: number;
  readonly shape: DipShape;
  /** Standard uncertainty of the share of inrush in the settled current. */
  readonly uInrush: number;
  /** Covariance of depth and inrush, volts. */
  readonly depthInrushCovarianceV: number;
  readonly onTimes: readonly OnTime[];
  /** Standard uncertainty of each switching time, seconds: onset, release, onset ... */
  readonly uTimesS: Float64Array;
  readonly template: Float64Array;
  /** Standard uncertainty with shape and times held: what the reading noise alone leaves. */
  readonly uNoiseV: number;
}

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
  /** Damping ratio of a needle that swings; it creeps when left out. */
  readonly dampingRatio?: number;
}

/** Prior mean and standard deviation of a shape parameter; the first three positive ones are held as logarithms. */
interface Prior {
  readonly mean: number;
  readonly sd: number;
}

const ROUNDS = 8;

/**
 * Fits depth, lag, settling, polarisation and each switching time together, starting from a shape of the bank.
 *
 * The shape has weak prior knowledge (invented, typical values: lag about 0.35 s within a factor 2, settling 2.5 s,
 * polarisation 0.3 of the step over 15 s; a lag from the profile is held to 20 %); each switching time is the mark's
 * within its uncertainty. A needle that swings takes the place of one that creeps where the readings clearly ask for it.
 * Gauss-Newton on the whitened readings; uncertainty from the curvature at the solution.
 */
export function refineDepth(problem: RefinementProblem, start: DipShape, startDepthV: number): RefinedDepth {
  const creeping = fitted(problem, start, startDepthV);
  const intervalS = Math.max(problem.blockS, meanIntervalS(problem.sampled));
  const shows = creeping.refined.depthV > SWING_SHOWS * creeping.refined.uNoiseV;
  // A needle faster than the readings cannot be seen to swing.
  if (!shows || intervalS > SWING_HIDDEN_S || creeping.refined.shape.lagS < intervalS) return creeping.refined;
  if (swingPromise(problem, creeping) < SWING_PROMISES) return creeping.refined;
  let best = { ...creeping, cost: creeping.cost - SWING_EARNS };
  for (const dampingRatio of DAMPING_RATIOS) {
    const { refined } = creeping;
    const own = fitted({ ...problem, dampingRatio }, swungShape(refined.shape, dampingRatio), refined.depthV);
    if (own.cost < best.cost) best = own;
  }
  return best.refined;
}

/** Depth, in standard uncertainties from noise, from which on a swing of the needle would show. */
const SWING_SHOWS = 15;
/** Readings further apart than this hide it. */
const SWING_HIDDEN_S = 0.15;
const DAMPING_RATIOS = [0.4, 0.55, 0.7, 0.85];
/** By how much a swing must better the sum of squares: 0.1 % for one parameter more. */
const SWING_EARNS = 10.8;
/** By how much all swings together must promise to better it for one to be fitted: less in 1 of 3 creeping needles. */
const SWING_PROMISES = 4.9;

/** A swing of the same lag: twice its damping ratio over its natural angular frequency. */
function swungShape(creeping: DipShape, dampingRatio: number): DipShape {
  return { ...creeping, lagS: creeping.lagS / (2 * dampingRatio), dampingRatio };
}

/** By how much the sum of squares falls when what each swing would change is fitted beside the creeping needle. */
function swingPromise(problem: RefinementProblem, { refined, parameters }: Fitted): number {
  const { sampled, blockS } = problem;
  const changes = DAMPING_RATIOS.map((dampingRatio) => {
    const swung = dipTemplate(sampled.timesS, blockS, refined.onTimes, swungShape(refined.shape, dampingRatio));
    return swung.map((v, i) => v - refined.template[i]);
  });
  const ahead = (extra: readonly Float64Array[]) =>
    linearized(withColumns(problem, extra), shapePriors(problem), parameters, refined.depthV).costAhead;
  return ahead([]) - ahead(changes);
}

/** The same problem with more common columns, the readings still last. */
function withColumns(problem: RefinementProblem, extra: readonly Float64Array[]): RefinementProblem {
  const { columns, columnCount: before } = problem;
  const columnCount = before + extra.length;
  const out = new Float64Array((columns.length / before) * columnCount);
  for (let i = 0, row = 0; i < columns.length; i += before, row += columnCount) {
    for (let c = 0; c < before - 1; c++) out[row + c] = columns[i + c];
    for (let c = 0; c < extra.length; c++) out[row + before - 1 + c] = extra[c][i / before];
    out[row + columnCount - 1] = columns[i + before - 1];
  }
  return { ...problem, columns: out, columnCount };
}

function meanIntervalS({ timesS }: SampledTimes): number {
  return (timesS[timesS.length - 1] - timesS[0]) / Math.max(1, timesS.length - 1);
}

interface Fitted {
  readonly refined: RefinedDepth;
  readonly parameters: Float64Array;
  readonly cost: number;
}

function fitted(problem: RefinementProblem, start: DipShape, startDepthV: number): Fitted {
  const priors = shapePriors(problem);
  let parameters = startParameters(problem, start);
  let depthV = startDepthV;
  let solution = linearized(problem, priors, parameters, depthV);
  let cost = solution.costAt;
  for (let round = 0; round < ROUNDS; round++) {
    let step = 1;
    let moved = false;
    while (step > 0.05) {
      const candidate = parameters.map((value, k) => value + step * clamp(solution.steps[k], 2 * priors[k].sd));
      const candidateDepthV = depthV + step * (solution.depthV - depthV);
      const next = linearized(problem, priors, candidate, candidateDepthV);
      if (next.costAt <= cost) {
        moved = cost - next.costAt > 1e-3;
        parameters = candidate;
        depthV = candidateDepthV;
        solution = next;
        cost = next.costAt;
        break;
      }
      step /= 2;
    }
    if (!moved) break;
  }
  return { refined: describe(problem, parameters, solution), parameters, cost };
}

function clamp(value: number, limit: number): number {
  return Math.max(-limit, Math.min(limit, value));
}

/** Order of the shape parameters: ln lag, ln settle, ln polarisation time, inrush, polarisation, then the times. */
const SHAPE_COUNT = 5;

function shapePriors(problem: RefinementProblem): readonly Prior[] {
  const settles = problem.kind === null || problem.kind === "heater";
  const lagS = problem.meter?.lagS;
  // A needle that swings lags by twice its damping ratio over its natural angular frequency.
  const swingShare = problem.dampingRatio === undefined ? 1 : 2 * problem.dampingRatio;
  return [
    lagS === undefined
      ? { mean: logarithm(0.35 / swingShare), sd: 0.7 }
      : { mean: logarithm(Math.max(lagS, 0.01) / swingShare), sd: 0.2 },
    { mean: logarithm(2.5), sd: 0.5 },
    { mean: logarithm(15), sd: 0.8 },
    settles ? { mean: 0.5, sd: 0.4 } : { mean: 0, sd: 0.02 },
    { mean: 0.3, sd: 0.15 },
    ...problem.onTimes.flatMap(() => [
      { mean: 0, sd: problem.timeUncertaintyS },
      { mean: 0, sd: problem.timeUncertaintyS },
    ]),
  ];
}

function startParameters(problem: RefinementProblem, start: DipShape): Float64Array {
  const parameters = new Float64Array(SHAPE_COUNT + 2 * problem.onTimes.length);
  parameters[0] = logarithm(Math.max(start.lagS, 0.02));
  parameters[1] = logarithm(start.settleS);
  parameters[2] = logarithm(start.polarizationS);
  parameters[3] = start.inrush;
  parameters[4] = start.polarization;
  parameters.fill(start.shiftS, SHAPE_COUNT);
  return parameters;
}

function shapeOf(parameters: Float64Array, dampingRatio: number | undefined): DipShape {
  return {
    ...(dampingRatio === undefined ? {} : { dampingRatio }),
    shiftS: 0,
    lagS: exponential(parameters[0]),
    inrush: parameters[3],
    settleS: exponential(parameters[1]),
    polarization: parameters[4],
    polarizationS: exponential(parameters[2]),
  };
}

function timesOf(problem: RefinementProblem, parameters: Float64Array): OnTime[] {
  return problem.onTimes.map(({ onsetS, releaseS }, k) => {
    const onset = onsetS + parameters[SHAPE_COUNT + 2 * k];
    return { onsetS: onset, releaseS: Math.max(releaseS + parameters[SHAPE_COUNT + 2 * k + 1], onset + 1e-3) };
  });
}

interface Linearized {
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

/** Least squares in the common columns, the depth and small changes of every parameter. */
function linearized(
  problem: RefinementProblem,
  priors: readonly Prior[],
  parameters: Float64Array,
  depthV: number,
): Linearized {
  const { sampled, blockS, columns, columnCount } = problem;
  const n = sampled.timesS.length;
  const shape = shapeOf(parameters, problem.dampingRatio);
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
    const dip = k < SHAPE_COUNT ? null : (k - SHAPE_COUNT) >> 1;
    if (dip !== null && dips[dip] === undefined) dips[dip] = dipTemplate(sampled.timesS, blockS, [onTimes[dip]], shape);
    const before = dip === null ? template : dips[dip];
    const movedTimes = timesOf(problem, moved);
    const after = dipTemplate(
      sampled.timesS,
      blockS,
      dip === null ? movedTimes : [movedTimes[dip]],
      shapeOf(moved, problem.dampingRatio),
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
  let penalty = 0;
  for (let k = 0; k < count; k++) {
    const at = common + 1 + k;
    const weight = 1 / squared(priors[k].sd);
    const off = parameters[k] - priors[k].mean;
    normal[at * explained + at] += weight;
    right[at] -= weight * off;
    penalty += weight * off * off;
  }
  const costAt = residualCost(gram, width, common) + penalty;
  const factor = factorOf(normal, explained);
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

/**
 * Cholesky factor of a normal matrix. Dips found before can be all but one another's sum; then the least part of each
 * column is held back that makes them distinct.
 */
function factorOf(matrix: Float64Array, n: number): Float64Array {
  for (const held of [0, 1e-10, 1e-8, 1e-6, 1e-4]) {
    const factor = Float64Array.from(matrix);
    for (let a = 0; a < n; a++) factor[a * n + a] += held * matrix[a * n + a] + (held > 0 ? Number.MIN_VALUE : 0);
    if (choleskyInPlace(factor, n)) return factor;
  }
  throw new RangeError("Cannot fit the dips: a column is zero or not finite");
}

/** Weighted sum of squares of the last column, the first `common` ones fitted. */
function residualCost(gram: Float64Array, width: number, common: number): number {
  const factor = factorOf(subMatrix(gram, width, common), common);
  const right = Float64Array.from({ length: common }, (_, a) => gram[a * width + width - 1]);
  const solved = solveCholesky(factor, common, right);
  let cost = gram[width * width - 1];
  for (let a = 0; a < common; a++) cost -= solved[a] * right[a];
  return cost;
}

/** Standard uncertainty of the depth beside the common columns alone. */
function noiseUncertainty(gram: Float64Array, width: number, common: number): number {
  const factor = factorOf(subMatrix(gram, width, common + 1), common + 1);
  return 1 / factor[(common + 1) * (common + 1) - 1];
}

function subMatrix(gram: Float64Array, width: number, size: number): Float64Array {
  const out = new Float64Array(size * size);
  for (let a = 0; a < size; a++) for (let b = 0; b < size; b++) out[a * size + b] = gram[a * width + b];
  return out;
}

function describe(problem: RefinementProblem, parameters: Float64Array, solution: Linearized): RefinedDepth {
  const size = parameters.length + 1;
  const at = (a: number, b: number) => solution.covariance[a * size + b];
  return {
    depthV: solution.depthV,
    uDepthV: Math.sqrt(at(0, 0)),
    shape: shapeOf(parameters, problem.dampingRatio),
    uInrush: Math.sqrt(at(4, 4)),
    depthInrushCovarianceV: at(0, 4),
    onTimes: timesOf(problem, parameters),
    uTimesS: Float64Array.from({ length: 2 * problem.onTimes.length }, (_, k) => {
      const row = 1 + SHAPE_COUNT + k;
      return Math.sqrt(at(row, row));
    }),
    template: solution.template,
    uNoiseV: solution.uNoiseV,
  };
}
