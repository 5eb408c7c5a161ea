import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type NoiseNode, posteriorNodes } from "../noise/posterior-nodes.js";
import { fitNoise, type NoiseFit, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { SampledTimes } from "../noise/whitening.js";
import type { LoadKind, MeterProfile } from "../profile.js";
import type { WorkingSeries } from "../series/working-series.js";
import { mixtureMoments, type NormalMixture } from "../statistics/normal-mixture.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { averagedScore, type ScoreDistribution, scoreDistribution, withoutTwins } from "./averaged-score.js";
import { type MatchedScores, matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import { type Display, mayBeIntervals, type RoundedResponse, roundedResponse } from "./rounded-response.js";
import { shapeBank, type WeightedShape } from "./shape-bank.js";
import { type RefinedDepth, refineDepth } from "./shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** A load whose switching times are known. */
export interface MarkedLoad {
  readonly id: string;
  readonly onTimes: readonly OnTime[];
  /** Kind of the load; null when nobody said. */
  readonly kind: LoadKind | null;
  /** Standard uncertainty of its switching times, seconds. */
  readonly timeUncertaintyS: number;
}

/** What is known of the meter, and the draws. */
export interface MarkedContext {
  readonly meter: MeterProfile | undefined;
  /** The display that rounded the readings; left out or null where nothing did. */
  readonly display?: Display | null;
  readonly random: RandomGenerator;
}

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

export interface MarkedDetection {
  readonly design: ReadingsDesign;
  readonly fit: NoiseFit;
  readonly responses: readonly MarkedResponse[];
}

/** Score above which a response shows its own shape. */
const SHAPE_SHOWS = 5;

/**
 * Judges loads whose switching times are marked.
 *
 * Noise and dips are told apart from the same readings: the noise by restricted likelihood beside the dips, each depth
 * by generalised least squares, averaged over the shapes of the bank and over the noise's own posterior.
 */
export function detectMarked(
  series: WorkingSeries,
  loads: readonly MarkedLoad[],
  context: MarkedContext,
): MarkedDetection {
  const design = new ReadingsDesign(series);
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const works = loads.map((load) => startWork(series, load, context));
  const dips = () => works.map((work) => work.template);

  // The noise beside the most expected shapes, then beside the likeliest ones, then beside the fitted ones.
  let fit = fitNoise(design.explained(dips()), prior);
  for (const work of works) {
    const found = scoresOf(scoredColumns(design, works, work, work.templates), fit.noise, false);
    const likely = heaviest(shapeWeights(found, work.bank));
    work.shape = work.bank[likely].shape;
    work.template = work.templates[likely];
    work.depthV = found.amplitudesV[likely];
    work.shapeShows = found.scores[likely] > SHAPE_SHOWS;
  }
  fit = fitNoise(design.explained(dips()), prior, fit.logs);
  for (let round = 0; round < 2 && works.some((work) => work.shapeShows); round++) {
    for (const work of works) if (work.shapeShows) refineWork(design, works, work, fit, context);
    fit = fitNoise(design.explained(dips()), prior, fit.logs);
  }

  const nodes = posteriorNodes(design.explained(dips()), prior, fit);
  return { design, fit, responses: works.map((work) => respond(design, works, work, fit, nodes, context)) };
}

/** One load while it is being judged. */
interface LoadWork {
  readonly load: MarkedLoad;
  readonly bank: readonly WeightedShape[];
  readonly templates: readonly Float64Array[];
  shape: DipShape;
  template: Float64Array;
  depthV: number;
  shapeShows: boolean;
  refined: RefinedDepth | null;
  /** What a slightly wrong shape of a fitted dip would leave behind. */
  leftovers: readonly Float64Array[];
}

function startWork(series: WorkingSeries, load: MarkedLoad, context: MarkedContext): LoadWork {
  const bank = shapeBank(load.kind, context.meter, load.timeUncertaintyS);
  const templates = bank.map(({ shape }) => dipTemplate(series.timesS, series.blockS, load.onTimes, shape));
  const start = heaviest(Float64Array.from(bank, ({ weight }) => weight));
  return {
    load,
    bank,
    templates,
    shape: bank[start].shape,
    template: templates[start],
    depthV: 0,
    shapeShows: false,
    refined: null,
    leftovers: [],
  };
}

function refineWork(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  work: LoadWork,
  fit: NoiseFit,
  context: MarkedContext,
): void {
  const refined = refineDepth(
    {
      sampled: design.series,
      blockS: design.series.blockS,
      ...design.columns(othersOf(works, work)),
      noise: fit.noise,
      onTimes: work.load.onTimes,
      kind: work.load.kind,
      meter: context.meter,
      timeUncertaintyS: Math.max(work.load.timeUncertaintyS, 0.02),
    },
    work.refined?.shape ?? work.shape,
    work.refined?.depthV ?? work.depthV,
  );
  work.refined = refined;
  work.template = refined.template;
  const { timesS, blockS } = design.series;
  work.leftovers = leftoverShapes(refined.shape).map((shape) => dipTemplate(timesS, blockS, refined.onTimes, shape));
}

/** Shapes whose differences from a fitted one are what a slightly wrong fit would leave. */
export function leftoverShapes(shape: DipShape): readonly DipShape[] {
  return [
    { ...shape, inrush: shape.inrush + 0.3 },
    { ...shape, inrush: shape.inrush + 0.3, settleS: shape.settleS / 2.5 },
    { ...shape, polarization: shape.polarization + 0.3 },
    { ...shape, polarization: shape.polarization + 0.3, polarizationS: shape.polarizationS / 2.5 },
    { ...shape, lagS: 1.5 * shape.lagS + 0.05 },
  ];
}

function respond(
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

/** Posterior weights of the shapes: prior x likelihood, with the amplitude integrated out. */
function shapeWeights(found: MatchedScores, bank: readonly WeightedShape[]): Float64Array {
  const logs = new Float64Array(bank.length);
  let top = Number.NEGATIVE_INFINITY;
  for (let j = 0; j < bank.length; j++) {
    const u = found.uAmplitudesV[j];
    logs[j] = Number.isFinite(u) ? logarithm(bank[j].weight) + logarithm(u) + squared(found.scores[j]) / 2 : -Infinity;
    top = Math.max(top, logs[j]);
  }
  let total = 0;
  for (let j = 0; j < bank.length; j++) {
    logs[j] = exponential(logs[j] - top);
    total += logs[j];
  }
  return logs.map((value) => value / total);
}

/**
 * Columns of the other loads: their dips and, where a dip is strong enough to show its shape and near enough to matter,
 * what a slightly wrong shape of it would leave.
 */
function othersOf(works: readonly LoadWork[], own: LoadWork): Float64Array[] {
  return works
    .filter((work) => work !== own)
    .flatMap((work) => (isNear(work, own) ? [work.template, ...work.leftovers] : [work.template]));
}

/** Seconds within which what is left of one dip may pass for another. */
const NEAR_S = 25;

function isNear(a: LoadWork, b: LoadWork): boolean {
  return a.load.onTimes.some((one) =>
    b.load.onTimes.some((two) => one.onsetS < two.releaseS + NEAR_S && two.onsetS < one.releaseS + NEAR_S),
  );
}

/** Templates of one load beside the columns of the others, ready to be scored in any noise. */
interface ScoredColumns {
  readonly sampled: SampledTimes;
  readonly columns: Float64Array;
  readonly counts: { readonly common: number; readonly templates: number };
}

function scoredColumns(
  design: ReadingsDesign,
  works: readonly LoadWork[],
  own: LoadWork,
  templates: readonly Float64Array[],
): ScoredColumns {
  const others = othersOf(works, own);
  const { columns } = design.columns(others, templates);
  return { sampled: design.series, columns, counts: { common: 2 + others.length, templates: templates.length } };
}

function scoresOf(
  { sampled, columns, counts }: ScoredColumns,
  noise: NoiseParameters,
  withCorrelations: boolean,
): MatchedScores {
  return matchedScores(sampled, columns, counts, noise, withCorrelations);
}

function heaviest(weights: Float64Array): number {
  let best = 0;
  for (let j = 1; j < weights.length; j++) if (weights[j] > weights[best]) best = j;
  return best;
}
