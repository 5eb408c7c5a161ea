import { pivotedCholesky } from "../statistics/cholesky.js";
import { normalCdf, normalQuantile } from "../statistics/distribution.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import type { RandomGenerator } from "../statistics/random.js";

/**
 * Judges a bank of correlated, weighted scores by their weighted exponential mean.
 *
 * The scores `z_j` are matched-filter outputs of unit variance. The statistic `ln sum w_j exp(m z_j)` is the most
 * powerful one against a response of size m whose shape is drawn from the weights; no shape has to be picked, and
 * trying many of them is paid for exactly. Its distribution without any response is drawn, not approximated.
 *
 * Source: Neyman-Pearson lemma for a mixture alternative; exponential tilting as in Siegmund 1976, The Annals of
 * Statistics 4 (both from memory).
 */
export interface ScoreBank {
  /** Weights of the shapes; they sum to 1. */
  readonly weights: Float64Array;
  /** Correlations of the scores, row-major. */
  readonly correlations: Float64Array;
}

const ALTERNATIVE = 3.5;

/** `ln sum w_j exp(m z_j)`, divided by m so that a single shape gives its own score back. */
export function averagedScore(scores: Float64Array, weights: Float64Array): number {
  return logMeanExponential(scores, weights, ALTERNATIVE) / ALTERNATIVE;
}

function logMeanExponential(scores: Float64Array, weights: Float64Array, size: number): number {
  let top = Number.NEGATIVE_INFINITY;
  for (const z of scores) if (z > top) top = z;
  let sum = 0;
  for (let j = 0; j < scores.length; j++) sum += weights[j] * exponential(size * (scores[j] - top));
  return size * top + logarithm(sum);
}

/** Shapes whose scores are correlated beyond this are one shape for the error rates. */
const ALIKE = 0.985;

/**
 * Joins shapes that the readings cannot tell apart: each group is stood for by its weightiest member.
 *
 * Returns the smaller bank and the indices of its members.
 */
export function withoutTwins(bank: ScoreBank): { readonly bank: ScoreBank; readonly members: Int32Array } {
  const n = bank.weights.length;
  const order = Array.from({ length: n }, (_, k) => k).sort((a, b) => bank.weights[b] - bank.weights[a]);
  const members: number[] = [];
  const weights: number[] = [];
  for (const j of order) {
    const twin = members.findIndex((m) => bank.correlations[m * n + j] > ALIKE);
    if (twin < 0) {
      members.push(j);
      weights.push(bank.weights[j]);
    } else {
      weights[twin] += bank.weights[j];
    }
  }
  const size = members.length;
  const correlations = new Float64Array(size * size);
  for (let a = 0; a < size; a++) {
    for (let b = 0; b < size; b++) correlations[a * size + b] = bank.correlations[members[a] * n + members[b]];
  }
  return { bank: { weights: Float64Array.from(weights), correlations }, members: Int32Array.from(members) };
}

/** What the bank would give without and with a response, from draws made once. */
export interface ScoreDistribution {
  /** Probability of at least this averaged score from noise alone. */
  pValue(score: number): number;
  /** Averaged score that noise alone reaches with the given probability. */
  criticalScore(falseAlarmRate: number): number;
  /** Size of a response, in standard deviations of its own shape's score, found with the given probability. */
  detectableSize(criticalScore: number, power: number): number;
}

/**
 * Draws the distribution of the averaged score.
 *
 * `scaleSd` is the standard deviation of the logarithm of the scores' scale, for noise that is known only from the same
 * few readings; it is taken at even steps of probability. Tail probabilities come from draws tilted towards the tail, each
 * with its likelihood ratio: 1e-9 is as well known as 1e-2 (about 3 % with 4,000 draws) where the noise is known.
 */
export function scoreDistribution(bank: ScoreBank, scaleSd: number, random: RandomGenerator): ScoreDistribution {
  const sampler = normalSampler(bank.correlations, bank.weights.length);
  const plain = drawPlain(bank, sampler, scaleSd, random, 600);
  const tiltedDraws = new Map<number, TiltedDraws>();
  const drawsFor = (score: number): TiltedDraws => {
    // One set of draws serves all ordinary scores; far ones get their own tilt.
    const tilt = score < 4 ? 2.5 : Math.min(40, Math.round(score));
    let draws = tiltedDraws.get(tilt);
    if (draws === undefined) {
      draws = drawTilted(bank, sampler, scaleSd, tilt, random, 4000);
      tiltedDraws.set(tilt, draws);
    }
    return draws;
  };
  const pValue = (score: number): number => {
    const draws = drawsFor(score);
    let sum = 0;
    for (let k = 0; k < draws.scores.length; k++) if (draws.scores[k] >= score) sum += draws.ratios[k];
    return Math.min(1, sum / draws.scores.length);
  };
  return {
    pValue,
    criticalScore: (rate) => bisect((score) => rate - pValue(score), -2, 12),
    detectableSize: (critical, power) => bisect((size) => powerOf(plain, bank, size, critical) - power, 0, 60),
  };
}

interface TiltedDraws {
  readonly scores: Float64Array;
  readonly ratios: Float64Array;
}

type Sampler = (random: RandomGenerator, out: Float64Array) => void;

function drawTilted(
  bank: ScoreBank,
  sampler: Sampler,
  scaleSd: number,
  tilt: number,
  random: RandomGenerator,
  count: number,
): TiltedDraws {
  const n = bank.weights.length;
  const z = new Float64Array(n);
  const stretched = new Float64Array(n);
  const scores = new Float64Array(count);
  const ratios = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    sampler(random, z);
    const scale = scaleAt(scaleSd, k);
    // Tilt less where the scale already lifts the score.
    const ownTilt = tilt / scale;
    const j = pick(bank.weights, random);
    for (let i = 0; i < n; i++) {
      z[i] += ownTilt * bank.correlations[i * n + j];
      stretched[i] = scale * z[i];
    }
    scores[k] = averagedScore(stretched, bank.weights);
    ratios[k] = exponential((ownTilt * ownTilt) / 2 - logMeanExponential(z, bank.weights, ownTilt));
  }
  return { scores, ratios };
}

/** Scales are taken evenly over their distribution, not drawn: the tail hangs on them. */
const SCALE_STRATA = 32;

function scaleAt(scaleSd: number, k: number): number {
  if (!(scaleSd > 0)) return 1;
  const z = normalQuantile(((k % SCALE_STRATA) + 0.5) / SCALE_STRATA);
  return exponential(Math.max(-1.5, Math.min(1.5, scaleSd * z)));
}

interface PlainDraws {
  /** One row of scores per draw. */
  readonly z: Float64Array;
  readonly scales: Float64Array;
  readonly shapes: Int32Array;
}

function drawPlain(
  bank: ScoreBank,
  sampler: Sampler,
  scaleSd: number,
  random: RandomGenerator,
  count: number,
): PlainDraws {
  const n = bank.weights.length;
  const z = new Float64Array(n * count);
  const scales = new Float64Array(count);
  const shapes = new Int32Array(count);
  for (let k = 0; k < count; k++) {
    sampler(random, z.subarray(k * n, (k + 1) * n));
    scales[k] = scaleAt(scaleSd, k);
    shapes[k] = pick(bank.weights, random);
  }
  return { z, scales, shapes };
}

/**
 * Probability that a response of this size is found, its shape drawn from the weights.
 *
 * The score grows almost linearly with the size around the threshold; each draw's own margin is smoothed by the unit
 * normal part along the shape, so that 600 draws give the power to about 1 %.
 */
function powerOf(draws: PlainDraws, bank: ScoreBank, size: number, critical: number): number {
  const n = bank.weights.length;
  const row = new Float64Array(n);
  let sum = 0;
  for (let k = 0; k < draws.scales.length; k++) {
    const j = draws.shapes[k];
    const scale = draws.scales[k];
    const own = draws.z[k * n + j];
    // Take the part of the noise along the shape out of the draw; it is integrated by the normal distribution.
    for (let i = 0; i < n; i++) row[i] = scale * (draws.z[k * n + i] + (size - own) * bank.correlations[i * n + j]);
    const margin = averagedScore(row, bank.weights) - critical;
    sum += normalCdf(margin / scale);
  }
  return sum / draws.scales.length;
}

function pick(weights: Float64Array, random: RandomGenerator): number {
  let left = random.uniform();
  for (let j = 0; j < weights.length - 1; j++) {
    left -= weights[j];
    if (left < 0) return j;
  }
  return weights.length - 1;
}

/** Draws correlated standard normal scores through the few directions that the bank really spans. */
function normalSampler(correlations: Float64Array, n: number): Sampler {
  const { factor, rank } = pivotedCholesky(correlations, n, 1e-4);
  const unit = new Float64Array(rank);
  return (random, out) => {
    for (let k = 0; k < rank; k++) unit[k] = random.normal();
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let k = 0; k < rank; k++) sum += factor[i * rank + k] * unit[k];
      out[i] = sum;
    }
  };
}

/** Root of an increasing function by bisection; an end of the range when there is none inside. */
function bisect(f: (x: number) => number, low: number, high: number): number {
  let a = low;
  let b = high;
  for (let k = 0; k < 40; k++) {
    const middle = (a + b) / 2;
    if (f(middle) < 0) a = middle;
    else b = middle;
  }
  return (a + b) / 2;
}
