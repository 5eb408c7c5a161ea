import type { NoiseNode } from "../noise/posterior-nodes.js";
import type { NoiseFit } from "../noise/restricted-likelihood.js";
import { mixtureMoments, type NormalMixture } from "../statistics/normal-mixture.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { averagedScore, type ScoreDistribution, scoreDistribution, withoutTwins } from "./averaged-score.js";
import { heaviest, type LoadWork, type MarkedContext, scoredColumns, scoresOf, shapeWeights } from "./load-work.js";
import type { MatchedScores } from "./matched-scores.js";
import type { ReadingsDesign } from "./readings-design.js";
import { mayBeIntervals, type RoundedResponse, roundedResponse } from "./rounded-response.js";
import type { WeightedShape } from "./shape-bank.js";
import type { RefinedDepth } from "./shape-refinement.js";
import type { DipShape, OnTime } from "./switching-template.js";
/** What the readings say about one marked load. */
export interface MarkedResponse {
  readonly id: string;
  readonly onTimes: readonly OnTime[];
  /** Most probable shape. */
  readonly shape: DipShape;
  readonly template: Float64Array;
  /** Averaged score over the shapes and its distribution without a response. */
  readonly score: number;
  readonly distribution: ScoreDistribution;
  /** Posterior distribution of the settled depth over the shapes and over what is open about the noise, volts. */
  readonly depth: NormalMixture;
  /** Standard uncertainty of the depth by the likeliest shape: volts per unit of score. */
  readonly voltsPerScore: number;
  /** The same over all shapes of the bank, by their weights before the readings: for what could be found. */
  readonly expectedVoltsPerScore: number;
  /** Standard deviation of the logarithm of that unit: the noise is known from the same few readings only. */
  readonly scaleSd: number;
  /** What a slightly wrong shape of a fitted dip would leave behind; none where no shape was fitted. */
  readonly leftovers: readonly Float64Array[];
  /** Whether the display's rounding is in scores and depth already. */
  readonly roundingCounted: boolean;
  /** Depth with shape and times fitted; null where the response is too faint to show them. */
  readonly refined: RefinedDepth | null;
}

/** Score, error rates and depth of one load, averaged over its shapes and over what is open about the noise. */
export function respond(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  work: LoadWork,
  fit: NoiseFit,
  nodes: readonly NoiseNode[],
  context: MarkedContext,
): MarkedResponse {
  const { bank } = work;
  const scored = scoredColumns(design, works, work, work.templates);
  const atMode = scoresOf(scored, fit.noise, true);
  const { bank: scoreBank, members } = withoutTwins({
    weights: Float64Array.from(bank, ({ weight }) => weight),
    correlations: atMode.correlations!,
  });
  const typical = heaviest(shapeWeights(atMode, bank));
  const parts: Part[] = [];
  const logScales = new Float64Array(nodes.length);
  const typicalDepthsV = new Float64Array(nodes.length);
  // A fitted shape needs no others: how it fares tells what the noise leaves open.
  const alone = work.refined === null ? null : scoredColumns(design, works, work, [work.templates[typical]]);
  for (let k = 0; k < nodes.length; k++) {
    if (alone !== null) {
      const { amplitudesV, uAmplitudesV } = scoresOf(alone, nodes[k].noise, false);
      logScales[k] = logarithm(uAmplitudesV[0]);
      typicalDepthsV[k] = amplitudesV[0];
      continue;
    }
    const found = k === 0 ? atMode : scoresOf(scored, nodes[k].noise, false);
    const posterior = shapeWeights(found, bank);
    logScales[k] = logarithm(found.uAmplitudesV[typical]);
    typicalDepthsV[k] = found.amplitudesV[typical];
    for (let j = 0; j < bank.length; j++) {
      const weight = nodes[k].weight * posterior[j];
      if (weight > 1e-6) parts.push({ mean: found.amplitudesV[j], sd: found.uAmplitudesV[j], weight });
    }
  }
  const scale = weightedMoments(logScales, nodes);
  // One unit of score: the noise's own part, and how far the depth moves with what is open about the noise.
  const voltsPerScore = rootSumSquares(exponential(scale.mean), weightedMoments(typicalDepthsV, nodes).sd);
  const toMean = exponential(logScales[0]) / voltsPerScore;
  const scores = Float64Array.from(members, (j) => atMode.scores[j] * toMean);
  const expectedVoltsPerScore = (voltsPerScore / atMode.uAmplitudesV[typical]) * expectedUncertainty(atMode, bank);
  const depth = work.refined === null ? mixtureOf(parts) : refinedMixture(work.refined, logScales, nodes);
  const rounded = roundedWork(design, works, work, { members, posterior: shapeWeights(atMode, bank), depth }, context);
  const plain = { scores, depth, voltsPerScore, expectedVoltsPerScore, scaleSd: scale.sd };
  const counted =
    rounded === null
      ? plain
      : {
          ...rounded,
          expectedVoltsPerScore: expectedVoltsPerScore * (rounded.voltsPerScore / voltsPerScore) * rounded.worstGrowth,
        };
  return {
    id: work.load.id,
    onTimes: work.load.onTimes,
    shape: work.refined?.shape ?? work.shape,
    template: work.template,
    score: averagedScore(counted.scores, scoreBank.weights),
    distribution: scoreDistribution(scoreBank, counted.scaleSd, context.random),
    depth: counted.depth,
    voltsPerScore: counted.voltsPerScore,
    expectedVoltsPerScore: counted.expectedVoltsPerScore,
    scaleSd: counted.scaleSd,
    roundingCounted: rounded !== null,
    leftovers: work.leftovers,
    refined: work.refined,
  };
}

/** The same load judged by the digits of a coarse display; null where there is none, or it is too coarse or too fine. */
function roundedWork(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  work: LoadWork,
  plain: { readonly members: Int32Array; readonly posterior: Float64Array; readonly depth: NormalMixture },
  context: MarkedContext,
): RoundedResponse | null {
  const { series } = design;
  const display = context.display ?? null;
  if (display === null || !mayBeIntervals(display, series.blockS)) return null;
  const othersV = new Float64Array(series.timesS.length);
  for (const other of works) {
    if (other === work) continue;
    const depthV = other.refined?.depthV ?? other.depthV;
    for (let i = 0; i < othersV.length; i++) othersV[i] += depthV * other.template[i];
  }
  const { refined } = work;
  const byWeight = Array.from(plain.posterior, (weight, j) => ({ template: work.templates[j], weight }))
    .sort((a, b) => b.weight - a.weight)
    .slice(0, DEPTH_SHAPES);
  const { mean, sd } = mixtureMoments(plain.depth);
  return roundedResponse({
    readings: { sampled: series, shownV: series.valuesV, stepV: display.stepV, othersV },
    likeliest: work.template,
    depthShapes: refined === null ? byWeight : [{ template: work.template, weight: 1 }],
    uShapeV: refined === null ? 0 : Math.sqrt(Math.max(squared(refined.uDepthV) - squared(refined.uNoiseV), 0)),
    members: Array.from(plain.members, (j) => work.templates[j]),
    startV: mean,
    startUV: sd,
    ownNoiseV: display.ownNoiseV,
    intervalS: design.intervalS,
  });
}

/** Shapes that are tried in turn for the depth behind a coarse display. */
const DEPTH_SHAPES = 8;

/** One over the mean score that a volt of settled depth makes, over the shapes of the bank. */
function expectedUncertainty(found: MatchedScores, bank: readonly WeightedShape[]): number {
  let perVolt = 0;
  for (let j = 0; j < bank.length; j++) perVolt += bank[j].weight / found.uAmplitudesV[j];
  return 1 / perVolt;
}

interface Part {
  readonly mean: number;
  readonly sd: number;
  readonly weight: number;
}

function mixtureOf(parts: readonly Part[]): NormalMixture {
  return {
    means: Float64Array.from(parts, (part) => part.mean),
    sds: Float64Array.from(parts, (part) => part.sd),
    weights: Float64Array.from(parts, (part) => part.weight),
  };
}

/** The fitted depth, its uncertainty from noise stretched by what is open about the noise. */
function refinedMixture(refined: RefinedDepth, logScales: Float64Array, nodes: readonly NoiseNode[]): NormalMixture {
  const parts = nodes.map(({ weight }, k) => {
    const noiseV = refined.uNoiseV * exponential(logScales[k] - logScales[0]);
    const shapeV2 = Math.max(squared(refined.uDepthV) - squared(refined.uNoiseV), 0);
    return { mean: refined.depthV, sd: Math.sqrt(squared(noiseV) + shapeV2), weight };
  });
  return mixtureOf(parts);
}

function weightedMoments(values: Float64Array, nodes: readonly NoiseNode[]): { mean: number; sd: number } {
  const { mean, sd } = mixtureMoments({
    means: values,
    sds: new Float64Array(values.length),
    weights: Float64Array.from(nodes, ({ weight }) => weight),
  });
  return { mean, sd };
}
