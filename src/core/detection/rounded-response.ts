import { fromLogs, type NoiseParameters } from "../noise/noise-parameters.js";
import { nodesOf } from "../noise/posterior-nodes.js";
import { likeliestNoise, priorPenalty, weakNoisePrior } from "../noise/restricted-likelihood.js";
import { type RoundedReadings, roundedLogLikelihood } from "../noise/rounded-likelihood.js";
import { normalCdf } from "../statistics/distribution.js";
import { mixtureMoments, type NormalMixture } from "../statistics/normal-mixture.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/** A display that rounds, and the noise that the readings surely have before it. */
export interface Display {
  readonly stepV: number;
  readonly ownNoiseV: number;
}

/**
 * Noise, in steps of the display, between which the digits are judged as intervals: below, moment matching no longer holds
 * its error rates; above, the rounding averages away like noise (measured: `test/core/detection/rounded-response.test.ts`).
 */
const LEAST_NOISE = 0.15;
const MOST_NOISE = 0.6;
/** Standard deviations by which the noise must surely lie above the least. */
const SURELY = 1.645;

/** Whether a display's digits may be judged as intervals: single readings, of which the rounding does not average away. */
export function mayBeIntervals({ stepV, ownNoiseV }: Display, blockS: number): boolean {
  return blockS === 0 && ownNoiseV <= MOST_NOISE * stepV;
}

/** One load's dip in rounded readings. */
export interface RoundedProblem {
  readonly readings: RoundedReadings;
  /** The likeliest shape. */
  readonly likeliest: Float64Array;
  /** Shapes that enter the depth's distribution, the likeliest first, with their weights after the unrounded fit. */
  readonly depthShapes: readonly { readonly template: Float64Array; readonly weight: number }[];
  /** Standard uncertainty that a fitted shape adds to the depth, volts; 0 where none was fitted. */
  readonly uShapeV: number;
  /** Shapes that are scored. */
  readonly members: readonly Float64Array[];
  /** Depth and standard uncertainty of the unrounded fit, volts: where to look. */
  readonly startV: number;
  readonly startUV: number;
  readonly ownNoiseV: number;
  readonly intervalS: number;
}

/** What the digits say of one load. */
export interface RoundedResponse {
  /** Signed root of twice the logarithm of the likelihood ratio of each shape; standard normal without a response. */
  readonly scores: Float64Array;
  readonly depth: NormalMixture;
  /** Standard uncertainty of the depth in the likeliest shape, and how uncertain its logarithm is. */
  readonly voltsPerScore: number;
  readonly scaleSd: number;
  /** The most by which that uncertainty grows when the dip lies where the display shows least of it. */
  readonly worstGrowth: number;
}

const GRID_POINTS = 33;
/** Allowance for what moment matching may add to the scatter of a depth, in standard uncertainties; chosen: 5 % in all. */
const APPROXIMATION = 0.3;
/** Half-width of the grid in standard uncertainties. */
const GRID_REACH = 5;

/**
 * Judges a dip by the probability of the digits themselves.
 *
 * The noise is fitted to the digits beside the dip, depth and noise in turn; the depth's distribution is averaged over the
 * likeliest shapes and over what is open about the noise. Null where the noise is not surely large enough for this.
 *
 * Source: likelihood of grouped observations, Gjeddebaek 1949; signed root of the likelihood ratio, Barndorff-Nielsen &
 * Cox 1994, Inference and Asymptotics (both from memory).
 */
export function roundedResponse(problem: RoundedProblem): RoundedResponse | null {
  const { readings, likeliest, members } = problem;
  const prior = weakNoisePrior(Math.max(problem.ownNoiseV, 0.2 * readings.stepV), problem.intervalS);
  const objective = (depthV: number) => (logs: Float64Array) =>
    priorPenalty(logs, prior) - roundedLogLikelihood(readings, likeliest, depthV, fromLogs(logs));
  let best = peak(problem, likeliest, fromLogs(prior.meanLogs));
  let fit = likeliestNoise(objective(best.depthV), prior.meanLogs);
  for (let round = 0; round < 2; round++) {
    best = peak(problem, likeliest, fit.noise);
    fit = likeliestNoise(objective(best.depthV), fit.logs);
  }
  const nodes = nodesOf(objective(best.depthV), prior, fit);
  const spread = (values: readonly number[]) =>
    mixtureMoments({
      means: Float64Array.from(values),
      sds: new Float64Array(values.length),
      weights: Float64Array.from(nodes, ({ weight }) => weight),
    });
  const noiseLogs = spread(nodes.map(({ noise }) => logarithm(rootSumSquares(noise.whiteV, noise.colouredV))));
  if (exponential(noiseLogs.mean - SURELY * noiseLogs.sd) < LEAST_NOISE * readings.stepV) return null;
  const peaks = nodes.map(({ noise }) => peak(problem, likeliest, noise));
  const scale = spread(peaks.map(({ uV }) => logarithm(uV)));
  const voltsPerScore = rootSumSquares(exponential(scale.mean), spread(peaks.map(({ depthV }) => depthV)).sd);
  const toMean = peaks[0].uV / voltsPerScore;
  return {
    scores: Float64Array.from(members, (template) => toMean * signedRoot(problem, template, fit.noise)),
    depth: depthMixture(
      problem,
      nodes.map(({ noise, weight }, k) => ({ noise, weight, peak: peaks[k] })),
    ),
    voltsPerScore,
    scaleSd: scale.sd,
    worstGrowth: worstGrowth(readings.stepV, fit.noise),
  };
}

interface Peak {
  readonly depthV: number;
  readonly logLikelihood: number;
  /** From the curvature at the peak. */
  readonly uV: number;
}

/** Likeliest depth of a shape: a coarse grid, then the top of parabolas. */
function peak(problem: RoundedProblem, template: Float64Array, noise: NoiseParameters): Peak {
  const { readings, startV, startUV } = problem;
  const at = (depthV: number) => roundedLogLikelihood(readings, template, depthV, noise);
  const reachV = 4 * startUV + readings.stepV;
  let stepV = reachV / 6;
  let depthV = startV;
  let top = Number.NEGATIVE_INFINITY;
  for (let k = -6; k <= 6; k++) {
    const value = at(startV + k * stepV);
    if (value > top) {
      top = value;
      depthV = startV + k * stepV;
    }
  }
  let curvature = 0;
  for (let round = 0; round < 5; round++) {
    const below = at(depthV - stepV);
    const above = at(depthV + stepV);
    curvature = (2 * top - below - above) / squared(stepV);
    const move = curvature > 0 ? Math.max(-stepV, Math.min(stepV, (above - below) / (2 * stepV * curvature))) : 0;
    const next = at(depthV + move);
    if (next > top) {
      top = next;
      depthV += move;
    }
    // Narrow down to about one standard uncertainty, where the curvature is that of the peak.
    const uV = curvature > 0 ? 1 / Math.sqrt(curvature) : stepV;
    stepV = Math.max(stepV / 3, 0.7 * uV);
  }
  return { depthV, logLikelihood: top, uV: curvature > 0 ? 1 / Math.sqrt(curvature) : reachV };
}

function signedRoot(problem: RoundedProblem, template: Float64Array, noise: NoiseParameters): number {
  const { depthV, logLikelihood } = peak(problem, template, noise);
  const without = roundedLogLikelihood(problem.readings, template, 0, noise);
  return Math.sign(depthV) * Math.sqrt(Math.max(0, 2 * (logLikelihood - without)));
}

interface PeakedNode {
  readonly noise: NoiseParameters;
  readonly weight: number;
  readonly peak: Peak;
}

function depthMixture(problem: RoundedProblem, nodes: readonly PeakedNode[]): NormalMixture {
  const centreV = nodes[0].peak.depthV;
  const widest = Math.max(...nodes.map(({ peak: { depthV, uV } }) => Math.abs(depthV - centreV) + GRID_REACH * uV));
  const reachV = Math.min(widest, 3 * GRID_REACH * nodes[0].peak.uV + problem.readings.stepV);
  const spacingV = (2 * reachV) / (GRID_POINTS - 1);
  const means = Float64Array.from({ length: GRID_POINTS }, (_, k) => centreV + (k - (GRID_POINTS - 1) / 2) * spacingV);
  const total = new Float64Array(GRID_POINTS);
  problem.depthShapes.forEach((shape, j) => {
    // The noise nodes matter most in the likeliest shape; other shapes are taken at the mode.
    for (const { noise, weight } of j === 0 ? nodes : nodes.slice(0, 1)) {
      const logs = means.map((depthV) => roundedLogLikelihood(problem.readings, shape.template, depthV, noise));
      const top = logs.reduce((most, value) => Math.max(most, value), Number.NEGATIVE_INFINITY);
      const mass = logs.reduce((sum, value) => sum + exponential(value - top), 0);
      const share = shape.weight * (j === 0 ? weight : 1);
      for (let k = 0; k < GRID_POINTS; k++) total[k] += (share * exponential(logs[k] - top)) / mass;
    }
  });
  return {
    means,
    sds: new Float64Array(GRID_POINTS).fill(
      rootSumSquares(spacingV / 2, problem.uShapeV, APPROXIMATION * nodes[0].peak.uV),
    ),
    weights: total,
  };
}

/** Share of the information about a dip that the readings within it carry; the rest is in those beside it. */
const INSIDE = 2 / 3;

/**
 * How much the uncertainty grows when the dip's bottom lies in the middle of a digit, where the display shows least.
 *
 * The information of a reading about the level hangs on where the level lies between two digits.
 */
function worstGrowth(stepV: number, noise: NoiseParameters): number {
  const sd = rootSumSquares(noise.whiteV, noise.colouredV) / stepV;
  const middle = information(0, sd);
  const edge = information(0.5, sd);
  // What share of the readings lies near an edge is not known: take the best place.
  return Math.sqrt(Math.max(1, 1 - INSIDE + (INSIDE * edge) / middle));
}

/**
 * Fisher information of one reading about a level `place` steps above a digit, in noise of `sd` steps; times `2 pi sd^2`,
 * which is the same for every place.
 */
function information(place: number, sd: number): number {
  let sum = 0;
  for (let digit = -4; digit <= 4; digit++) {
    const low = (digit - 0.5 - place) / sd;
    const high = (digit + 0.5 - place) / sd;
    const mass = normalCdf(high) - normalCdf(low);
    if (mass < 1e-12) continue;
    const slope = exponential(-0.5 * low * low) - exponential(-0.5 * high * high);
    sum += (slope * slope) / mass;
  }
  return sum;
}
