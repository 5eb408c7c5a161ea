import type { SampledTimes } from "../noise/whitening.js";
import {
  costOf,
  type Linearized,
  linearized,
  type Prior,
  type RefinementProblem,
  shapeCount,
  shapeOf,
  shapePriors,
  startParameters,
  timesOf,
} from "./shape-linearization.js";
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
  /** What the profile says and the readings clearly contradict, so that it was not held to; absent where nothing is. */
  readonly contradicted?: ProfileContradiction;
}

/** Where a fit starts: an earlier one, or a shape whose switchings stand at their marks. */
export interface FitStart {
  readonly shape: DipShape;
  readonly depthV: number;
  readonly onTimes?: readonly OnTime[];
}

/** The load's kind, the meter's lag, or both. */
export type ProfileContradiction = "kind" | "lag" | "kind-and-lag";

const ROUNDS = 20;

/**
 * Fits depth, lag, settling, polarisation and each switching time together, starting from a shape of the bank or from an
 * earlier fit.
 *
 * The shape has weak prior knowledge (invented, typical values: lag about 0.35 s within a factor 2, settling 2.5 s,
 * polarisation 0.3 of the step over 15 s; a lag from the profile is held to 20 %); each switching time is the mark's
 * within its uncertainty. Kind and lag of the profile yield where the readings clearly contradict them, which is told. A
 * needle that swings takes the place of one that creeps where the readings clearly ask for it.
 * Gauss-Newton on the whitened readings; uncertainty from the curvature at the solution.
 */
export function refineDepth(told: RefinementProblem, start: FitStart): RefinedDepth {
  const { problem, creeping, contradicted } = unlessContradicted(told, fitted(told, crept(start)));
  const refined = orSwinging(problem, creeping, start);
  return contradicted === null ? refined : { ...refined, contradicted };
}

/** The same start for a needle that creeps with the same lag. */
function crept(start: FitStart): FitStart {
  const { dampingRatio, lagS, ...rest } = start.shape;
  return dampingRatio === undefined ? start : { ...start, shape: { ...rest, lagS: 2 * dampingRatio * lagS } };
}

/** The needle that swings in place of one that creeps, where the readings clearly ask for it or the fit started with it. */
function orSwinging(problem: RefinementProblem, creeping: Fitted, start: FitStart): RefinedDepth {
  const swung = start.shape.dampingRatio === undefined ? [] : [start];
  const intervalS = Math.max(problem.blockS, meanIntervalS(problem.sampled));
  const shows = creeping.refined.depthV > SWING_SHOWS * creeping.refined.uNoiseV;
  // A needle faster than the readings cannot be seen to swing.
  if (swung.length === 0) {
    if (!shows || intervalS > SWING_HIDDEN_S || creeping.refined.shape.lagS < intervalS) return creeping.refined;
    if (swingPromise(problem, creeping) < SWING_PROMISES) return creeping.refined;
  }
  const { refined } = creeping;
  const starts = DAMPING_RATIOS.map((ratio): FitStart => ({ ...refined, shape: swungShape(refined.shape, ratio) }));
  let best = { ...creeping, cost: creeping.cost - SWING_EARNS };
  for (const from of [...swung, ...starts]) {
    const own = fitted({ ...problem, swings: true }, from);
    if (own.cost < best.cost) best = own;
  }
  return best.refined;
}

/**
 * The fit as told, or the one without what the profile says of the load's kind or of the lag, where the readings clearly
 * speak against that: a dip held to a wrong shape would be told far more surely than it is known.
 */
function unlessContradicted(told: RefinementProblem, asTold: Fitted): Unheld {
  let best: Unheld = { problem: told, creeping: asTold, contradicted: null };
  const { refined } = asTold;
  if (!(refined.depthV > CONTRADICTION_SHOWS * refined.uNoiseV)) return best;
  const others: Pick<Unheld, "problem" | "contradicted">[] = [];
  if (told.kind !== null && told.kind !== "heater") {
    others.push({ problem: { ...told, kind: null }, contradicted: "kind" });
  }
  if (told.meter?.lagS !== undefined) others.push({ problem: { ...told, meter: undefined }, contradicted: "lag" });
  if (others.length === 2) {
    others.push({ problem: { ...told, kind: null, meter: undefined }, contradicted: "kind-and-lag" });
  }
  for (const other of others) {
    const creeping = fitted(other.problem, refined);
    if (creeping.cost < best.creeping.cost - CONTRADICTS) best = { ...other, creeping };
  }
  return best;
}

/** A fit, and what of the profile it was not held to. */
interface Unheld {
  readonly problem: RefinementProblem;
  readonly creeping: Fitted;
  readonly contradicted: ProfileContradiction | null;
}

/** By how much another shape must better the sum of squares to take the place of what was told: 0.1 % for one parameter. */
const CONTRADICTS = 10.8;
/** Depth, in standard uncertainties from noise, from which on a wrong shape would show. */
const CONTRADICTION_SHOWS = 6;

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

/** The least sum of squares to be reached from a start; a switching that is stuck beside its edge is put onto it. */
function fitted(problem: RefinementProblem, start: FitStart): Fitted {
  const priors = shapePriors(problem);
  let best = descended(problem, priors, startParameters(problem, start.shape, start.onTimes), start.depthV);
  for (let jumps = 0; jumps < 2 * problem.onTimes.length; jumps++) {
    const { depthV, uNoiseV } = best.refined;
    if (!(depthV > EDGES_SHOW * uNoiseV)) break;
    const jumped = betterPlaced(problem, priors, best);
    if (jumped === null) break;
    const next = descended(problem, priors, jumped, depthV);
    if (next.cost >= best.cost) break;
    best = next;
  }
  return best;
}

/** Depth, in standard uncertainties from noise, from which on each edge shows by itself where it is. */
const EDGES_SHOW = 15;
/** Least share of the sum of squares that comes of one stuck switching; dips of unequal depths leave less at each edge. */
const STUCK_SHARE = 0.2;
/** Places that are tried for each switching, in standard uncertainties of its mark. */
const PLACES = [-3, -2.4, -1.8, -1.2, -0.6, 0, 0.6, 1.2, 1.8, 2.4, 3];

/** The parameters with the one switching moved that betters the fit most by it; null where none clearly does. */
function betterPlaced(
  problem: RefinementProblem,
  priors: readonly Prior[],
  { parameters, refined, cost }: Fitted,
): Float64Array | null {
  let best: Float64Array | null = null;
  let least = cost - Math.max(CONTRADICTS, STUCK_SHARE * cost);
  for (let k = shapeCount(problem); k < parameters.length; k++) {
    for (const place of PLACES) {
      const moved = Float64Array.from(parameters);
      moved[k] = place * priors[k].sd;
      const own = costOf(problem, priors, moved, refined.depthV);
      if (own >= least) continue;
      least = own;
      best = moved;
    }
  }
  return best;
}

/** Gauss-Newton from these parameters to the nearest least sum of squares. */
function descended(
  problem: RefinementProblem,
  priors: readonly Prior[],
  from: Float64Array,
  startDepthV: number,
): Fitted {
  let parameters = from;
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

function describe(problem: RefinementProblem, parameters: Float64Array, solution: Linearized): RefinedDepth {
  const size = parameters.length + 1;
  const at = (a: number, b: number) => solution.covariance[a * size + b];
  return {
    depthV: solution.depthV,
    uDepthV: Math.sqrt(at(0, 0)),
    shape: shapeOf(parameters, problem.swings === true),
    uInrush: Math.sqrt(at(4, 4)),
    depthInrushCovarianceV: at(0, 4),
    onTimes: timesOf(problem, parameters),
    uTimesS: Float64Array.from({ length: 2 * problem.onTimes.length }, (_, k) => {
      const row = 1 + shapeCount(problem) + k;
      return Math.sqrt(at(row, row));
    }),
    template: solution.template,
    uNoiseV: solution.uNoiseV,
  };
}
