import { type NoiseNode, posteriorNodes } from "../noise/posterior-nodes.js";
import { type ExplainedReadings, fitNoise, type NoiseFit, weakNoisePrior } from "../noise/restricted-likelihood.js";
import { smoothedDrift } from "../noise/smoothed-drift.js";
import { whitenedProducts } from "../noise/whitening.js";
import type { WorkingSeries } from "../series/working-series.js";
import { choleskyInPlace, solveCholesky } from "../statistics/cholesky.js";
import type { NormalMixture } from "../statistics/normal-mixture.js";
import type { RandomGenerator } from "../statistics/random.js";
import { averagedScore, type ScoreDistribution, scoreDistribution } from "./averaged-score.js";
import { type MatchedScores, matchedScores } from "./matched-scores.js";
import type { WeightedShape } from "./shape-bank.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** A load whose switching times are known, and the shapes that its dips may have. */
export interface MarkedLoad {
  readonly id: string;
  readonly onTimes: readonly OnTime[];
  readonly bank: readonly WeightedShape[];
}

/** What the readings say about one marked load. */
export interface MarkedResponse {
  readonly id: string;
  readonly onTimes: readonly OnTime[];
  /** Most probable shape. */
  readonly shape: DipShape;
  /** Averaged score over the shapes and its distribution without a response. */
  readonly score: number;
  readonly distribution: ScoreDistribution;
  /** Posterior distribution of the settled depth over the shapes and over what is open about the noise, volts. */
  readonly depth: NormalMixture;
  /** Standard uncertainty of the depth by one typical shape: volts per unit of score. */
  readonly voltsPerScore: number;
  /** Posterior mean of the weight of each shape. */
  readonly shapeWeights: Float64Array;
}

export interface MarkedDetection {
  readonly series: WorkingSeries;
  readonly fit: NoiseFit;
  readonly responses: readonly MarkedResponse[];
  /** Fitted level without and with the dips, at the times of the series. */
  readonly driftV: Float64Array;
  readonly modelV: Float64Array;
}

/**
 * Judges loads whose switching times are marked.
 *
 * Noise and dips are told apart from the same readings: the noise by restricted likelihood beside the dips, each depth
 * by generalised least squares, averaged over the shapes of the bank and over the noise's own posterior.
 */
export function detectMarked(
  series: WorkingSeries,
  loads: readonly MarkedLoad[],
  random: RandomGenerator,
): MarkedDetection {
  const design = new Design(series);
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const banks = loads.map((load) =>
    load.bank.map(({ shape }) => dipTemplate(series.timesS, series.blockS, load.onTimes, shape)),
  );
  const chosen = loads.map((load) => heaviest(load.bank.map(({ weight }) => weight)));
  const explained = () => design.explained(chosen.map((j, l) => banks[l][j]));

  // The noise beside the most expected shapes, then beside the best ones.
  let fit = fitNoise(explained(), prior);
  let moved = false;
  for (let l = 0; l < loads.length; l++) {
    const found = scoresOf(design, banks, chosen, l, fit, false);
    const likely = heaviest(Array.from(shapeWeights(found, loads[l].bank)));
    moved ||= likely !== chosen[l];
    chosen[l] = likely;
  }
  if (moved) fit = fitNoise(explained(), prior, fit.logs);
  const readings = explained();
  const nodes = posteriorNodes(readings, prior, fit);
  const responses = loads.map((load, l) => respond(design, load, banks, chosen, l, fit, nodes, random));
  return {
    series,
    fit,
    responses,
    ...design.fitted(
      chosen.map((j, l) => banks[l][j]),
      fit,
    ),
  };
}

function respond(
  design: Design,
  load: MarkedLoad,
  banks: readonly (readonly Float64Array[])[],
  chosen: readonly number[],
  own: number,
  fit: NoiseFit,
  nodes: readonly NoiseNode[],
  random: RandomGenerator,
): MarkedResponse {
  const atMode = scoresOf(design, banks, chosen, own, fit, true);
  const weights = Float64Array.from(load.bank, ({ weight }) => weight);
  const size = load.bank.length;
  const means = new Float64Array(size * nodes.length);
  const sds = new Float64Array(size * nodes.length);
  const mixtureWeights = new Float64Array(size * nodes.length);
  const totals = new Float64Array(size);
  const typical = heaviest(Array.from(shapeWeights(atMode, load.bank)));
  const logScales = new Float64Array(nodes.length);
  for (let k = 0; k < nodes.length; k++) {
    const found = k === 0 ? atMode : scoresOf(design, banks, chosen, own, { ...fit, noise: nodes[k].noise }, false);
    const posterior = shapeWeights(found, load.bank);
    logScales[k] = Math.log(found.uAmplitudesV[typical]);
    for (let j = 0; j < size; j++) {
      const at = k * size + j;
      means[at] = found.amplitudesV[j];
      sds[at] = found.uAmplitudesV[j];
      mixtureWeights[at] = nodes[k].weight * posterior[j];
      totals[j] += mixtureWeights[at];
    }
  }
  const scale = weightedMoments(logScales, nodes);
  // Scores are in units of the scale's mean, so that a mode off the middle of its posterior does no harm.
  const toMean = Math.exp(logScales[0] - scale.mean);
  const scores = atMode.scores.map((z) => z * toMean);
  return {
    id: load.id,
    onTimes: load.onTimes,
    shape: load.bank[heaviest(Array.from(totals))].shape,
    score: averagedScore(scores, weights),
    distribution: scoreDistribution({ weights, correlations: atMode.correlations! }, scale.sd, random),
    depth: pruned({ means, sds, weights: mixtureWeights }),
    voltsPerScore: Math.exp(scale.mean),
    shapeWeights: totals,
  };
}

function weightedMoments(values: Float64Array, nodes: readonly NoiseNode[]): { mean: number; sd: number } {
  let mean = 0;
  for (let k = 0; k < values.length; k++) mean += nodes[k].weight * values[k];
  let variance = 0;
  for (let k = 0; k < values.length; k++) variance += nodes[k].weight * (values[k] - mean) ** 2;
  return { mean, sd: Math.sqrt(variance) };
}

/** Posterior weights of the shapes: prior x likelihood, with the amplitude integrated out. */
function shapeWeights(found: MatchedScores, bank: readonly WeightedShape[]): Float64Array {
  const logs = new Float64Array(bank.length);
  let top = Number.NEGATIVE_INFINITY;
  for (let j = 0; j < bank.length; j++) {
    const u = found.uAmplitudesV[j];
    logs[j] = Number.isFinite(u) ? Math.log(bank[j].weight) + Math.log(u) + found.scores[j] ** 2 / 2 : -Infinity;
    top = Math.max(top, logs[j]);
  }
  let total = 0;
  for (let j = 0; j < bank.length; j++) {
    logs[j] = Math.exp(logs[j] - top);
    total += logs[j];
  }
  return logs.map((value) => value / total);
}

function scoresOf(
  design: Design,
  banks: readonly (readonly Float64Array[])[],
  chosen: readonly number[],
  own: number,
  fit: NoiseFit,
  withCorrelations: boolean,
): MatchedScores {
  const others = banks.flatMap((bank, l) => (l === own ? [] : [bank[chosen[l]]]));
  return design.scores(others, banks[own], fit, withCorrelations);
}

function heaviest(weights: readonly number[]): number {
  let best = 0;
  for (let j = 1; j < weights.length; j++) if (weights[j] > weights[best]) best = j;
  return best;
}

/** Drops parts that together weigh less than a thousandth. */
function pruned(mixture: NormalMixture): NormalMixture {
  const order = Array.from(mixture.weights.keys()).sort((a, b) => mixture.weights[b] - mixture.weights[a]);
  let left = mixture.weights.reduce((sum, w) => sum + w, 0);
  const enough = 1e-3 * left;
  const kept: number[] = [];
  for (const k of order) {
    if (left < enough) break;
    kept.push(k);
    left -= mixture.weights[k];
  }
  return {
    means: Float64Array.from(kept, (k) => mixture.means[k]),
    sds: Float64Array.from(kept, (k) => mixture.sds[k]),
    weights: Float64Array.from(kept, (k) => mixture.weights[k]),
  };
}

/** Columns of the readings: constant, line, dips, readings. */
class Design {
  readonly scatterV: number;
  readonly intervalS: number;
  private readonly line: Float64Array;
  private readonly centreV: number;

  constructor(private readonly series: WorkingSeries) {
    const { timesS, valuesV, readingCounts } = series;
    const n = timesS.length;
    const middleS = (timesS[0] + timesS[n - 1]) / 2;
    const halfS = Math.max((timesS[n - 1] - timesS[0]) / 2, 1e-9);
    this.line = timesS.map((t) => (t - middleS) / halfS);
    this.centreV = valuesV.reduce((sum, v) => sum + v, 0) / n;
    this.intervalS = n > 1 ? (timesS[n - 1] - timesS[0]) / (n - 1) : 1;
    const meanCount = readingCounts.reduce((sum, c) => sum + c, 0) / n;
    this.scatterV = Math.max(series.readingScatterV / Math.sqrt(meanCount), 1e-9);
  }

  explained(dips: readonly Float64Array[]): ExplainedReadings {
    const columnCount = 3 + dips.length;
    return { sampled: this.series, columns: this.fill([...dips, this.readings()], columnCount), columnCount };
  }

  scores(
    others: readonly Float64Array[],
    bank: readonly Float64Array[],
    fit: NoiseFit,
    withCorrelations: boolean,
  ): MatchedScores {
    const common = 2 + others.length;
    const columns = this.fill([...others, this.readings(), ...bank], common + 1 + bank.length);
    return matchedScores(this.series, columns, { common, templates: bank.length }, fit.noise, withCorrelations);
  }

  /** Level without and with the dips: line, smoothed wander and the dips at their generalised-least-squares depths. */
  fitted(dips: readonly Float64Array[], fit: NoiseFit): { driftV: Float64Array; modelV: Float64Array } {
    const readings = this.explained(dips);
    const { columns, columnCount } = readings;
    const explained = columnCount - 1;
    const { gram } = whitenedProducts(this.series, columns, columnCount, fit.noise);
    const normal = new Float64Array(explained * explained);
    const right = new Float64Array(explained);
    for (let a = 0; a < explained; a++) {
      for (let b = 0; b < explained; b++) normal[a * explained + b] = gram[a * columnCount + b];
      right[a] = gram[a * columnCount + explained];
    }
    if (!choleskyInPlace(normal, explained)) throw new RangeError("Cannot fit the dips: their columns are collinear");
    const solution = solveCholesky(normal, explained, right);
    const n = this.series.timesS.length;
    const lineV = new Float64Array(n);
    const dipsV = new Float64Array(n);
    const residualsV = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      const row = i * columnCount;
      lineV[i] = solution[0] + solution[1] * columns[row + 1];
      for (let c = 2; c < explained; c++) dipsV[i] += solution[c] * columns[row + c];
      residualsV[i] = columns[row + explained] - lineV[i] - dipsV[i];
    }
    const wanderV = smoothedDrift(this.series, residualsV, fit.noise);
    const driftV = wanderV.map((v, i) => v + lineV[i] + this.centreV);
    return { driftV, modelV: driftV.map((v, i) => v + dipsV[i]) };
  }

  private readings(): Float64Array {
    return this.series.valuesV.map((v) => v - this.centreV);
  }

  private fill(rest: readonly Float64Array[], columnCount: number): Float64Array {
    const n = this.series.timesS.length;
    const columns = new Float64Array(n * columnCount);
    for (let i = 0; i < n; i++) {
      const row = i * columnCount;
      columns[row] = 1;
      columns[row + 1] = this.line[i];
      for (let c = 0; c < rest.length; c++) columns[row + 2 + c] = rest[c][i];
    }
    return columns;
  }
}
