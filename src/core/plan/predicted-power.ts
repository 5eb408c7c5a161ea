import { averagedScore, withoutTwins } from "../detection/averaged-score.js";
import { matchedScores } from "../detection/matched-scores.js";
import { shapeBank, type WeightedShape } from "../detection/shape-bank.js";
import { dipTemplate, type OnTime } from "../detection/switching-template.js";
import type { LoadKind, MeterProfile } from "../profile.js";
import { pivotedCholesky } from "../statistics/cholesky.js";
import { normalCdf, normalQuantile } from "../statistics/distribution.js";
import { squared } from "../statistics/portable-power.js";
import { type RandomGenerator, randomGenerator } from "../statistics/random.js";
import type { CriticalOffset } from "./critical-offset.js";
import type { NoiseKnowledge } from "./noise-knowledge.js";
import type { PlannedStretch } from "./planned-stretch.js";
import { scaleAt } from "./score-scale.js";

/** What one load's switchings in one stretch of readings will be able to tell. */
export interface PredictedDetection {
  /** Probability that a true settled depth is called a response at a false-alarm rate. */
  power(depthV: number, falseAlarmRate: number): number;
  /** True depth that is found with a power. */
  minimumDetectableV(falseAlarmRate: number, power: number): number;
}

export interface PlannedLoad {
  readonly kind: LoadKind;
  readonly onTimes: readonly OnTime[];
  /** Standard uncertainty of a switching time against its mark. */
  readonly timeUncertaintyS: number;
}

/** Templates are taken at the middle of each block: the edges that this moves are moved in all of them. */
const INSTANT = 0;
/** Shapes and hands that are tried for what the load may really do. */
const TRUTH_COUNT = 20;
const DRAWS_PER_TRUTH = 16;

/**
 * Predicts how the detector will judge a load, by the detector's own means: generalised least squares over the noise
 * model with its drift, the bank of shapes, their averaged score, and what a short recording leaves open of its noise.
 *
 * True dips are drawn from the same bank, each edge off its mark by its own error.
 */
export function predictedDetection(
  stretch: PlannedStretch,
  load: PlannedLoad,
  meter: MeterProfile | undefined,
  context: { readonly knowledge: NoiseKnowledge; readonly offset: CriticalOffset },
): PredictedDetection {
  const { timesS } = stretch.sampled;
  const { knowledge, offset } = context;
  const random = randomGenerator(1);
  const bank = shapeBank(load.kind, meter, load.timeUncertaintyS);
  const templates = bank.map(({ shape }) => dipTemplate(timesS, INSTANT, load.onTimes, shape));
  const truths = drawTruths(bank, load, random).map(({ onTimes, shape }) =>
    dipTemplate(timesS, INSTANT, onTimes, shape),
  );
  const all = [...templates, ...truths];
  const found = matchedScores(
    stretch.sampled,
    stretch.columns(all),
    { common: 2, templates: all.length },
    stretch.noise,
    true,
  );
  const correlations = found.correlations!;
  const size = all.length;
  const { bank: scoreBank, members } = withoutTwins({
    weights: Float64Array.from(bank, ({ weight }) => weight),
    correlations: square(correlations, size, bank.length),
  });
  const draws = drawScores(correlations, size, members, bank.length, knowledge, random);
  const criticalScores = new Map<number, number>();
  const row = new Float64Array(members.length);
  const power = (depthV: number, falseAlarmRate: number): number => {
    let critical = criticalScores.get(falseAlarmRate);
    if (critical === undefined) {
      critical = offset.criticalScore(scoreBank, falseAlarmRate, knowledge.scaleSd);
      criticalScores.set(falseAlarmRate, critical);
    }
    let sum = 0;
    for (const draw of draws) {
      const sizeOfDip = depthV / found.uAmplitudesV[draw.truth];
      for (let i = 0; i < row.length; i++) row[i] = draw.scale * (draw.beside[i] + sizeOfDip * draw.along[i]);
      // Along the true dip the noise is integrated, not drawn.
      const score = averagedScore(row, scoreBank.weights);
      sum += normalCdf((score - critical) / slopeAlong(draw, row, { score, weights: scoreBank.weights }));
    }
    return sum / draws.length;
  };
  return {
    power,
    minimumDetectableV: (falseAlarmRate, wanted) => {
      const startV = 4.6 * found.uAmplitudesV[bank.length];
      return depthWithPower((depthV) => power(depthV, falseAlarmRate), wanted, startV);
    },
  };
}

/** Depth of a wanted power by secants on the normal scale, on which power is nearly a straight line. */
function depthWithPower(power: (depthV: number) => number, wanted: number, startV: number): number {
  const goal = normalQuantile(wanted);
  const height = (depthV: number) => normalQuantile(Math.min(1 - 1e-12, Math.max(1e-12, power(depthV)))) - goal;
  let [aV, bV] = [startV, 1.15 * startV];
  let [a, b] = [height(aV), height(bV)];
  for (let k = 0; k < 8 && Math.abs(b) > 0.002 && b !== a; k++) {
    const nextV = Math.min(3 * bV, Math.max(bV / 3, bV - (b * (bV - aV)) / (b - a)));
    [aV, a] = [bV, b];
    [bV, b] = [nextV, height(nextV)];
  }
  return bV;
}

/** Standard uncertainty of the depth by the bank's weightiest shape, volts: quick, for comparing rhythms. */
export function typicalUncertaintyV(
  stretch: PlannedStretch,
  load: PlannedLoad,
  meter: MeterProfile | undefined,
): number {
  const { timesS } = stretch.sampled;
  const bank = shapeBank(load.kind, meter, 0);
  const { shape } = bank.reduce((best, one) => (one.weight > best.weight ? one : best));
  const template = dipTemplate(timesS, INSTANT, load.onTimes, shape);
  const counts = { common: 2, templates: 1 };
  return matchedScores(stretch.sampled, stretch.columns([template]), counts, stretch.noise, false).uAmplitudesV[0];
}

/** Shapes by their weights, taken evenly, each with edges off their marks. */
function drawTruths(bank: readonly WeightedShape[], load: PlannedLoad, random: RandomGenerator) {
  const off = () => load.timeUncertaintyS * random.normal();
  return Array.from({ length: TRUTH_COUNT }, (_, k) => {
    const { shape } = pick(bank, (k + 0.5) / TRUTH_COUNT);
    const onTimes = load.onTimes.map(({ onsetS, releaseS }) => {
      const movedS = onsetS + off();
      return { onsetS: movedS, releaseS: Math.max(movedS + 0.3, releaseS + off()) };
    });
    // The common shift of the bank stands for the very errors that are drawn here edge by edge.
    return { onTimes, shape: { ...shape, shiftS: 0 } };
  });
}

function pick(bank: readonly WeightedShape[], at: number): WeightedShape {
  let left = at;
  // Large steps through the bank, so that even places do not beat with its order.
  const order = bank.map((_, k) => bank[(k * 7) % bank.length]);
  const list = bank.length % 7 === 0 ? bank : order;
  for (const one of list) {
    left -= one.weight;
    if (left < 0) return one;
  }
  return list[list.length - 1];
}

function square(matrix: Float64Array, size: number, part: number): Float64Array {
  const out = new Float64Array(part * part);
  for (let a = 0; a < part; a++) for (let b = 0; b < part; b++) out[a * part + b] = matrix[a * size + b];
  return out;
}

/** One draw of noise scores beside a true dip. */
interface ScoreDraw {
  /** Index of the true dip among all templates. */
  readonly truth: number;
  /** Noise scores of the bank's members with the part along the true dip taken out. */
  readonly beside: Float64Array;
  /** Score that a dip of one standard uncertainty gives each member. */
  readonly along: Float64Array;
  readonly scale: number;
}

function drawScores(
  correlations: Float64Array,
  size: number,
  members: Int32Array,
  bankSize: number,
  knowledge: NoiseKnowledge,
  random: RandomGenerator,
): ScoreDraw[] {
  // The members and the true dips together.
  const rows = [...members, ...Array.from({ length: size - bankSize }, (_, k) => bankSize + k)];
  const among = new Float64Array(squared(rows.length));
  rows.forEach((row, a) => {
    for (let b = 0; b < rows.length; b++) among[a * rows.length + b] = correlations[row * size + rows[b]];
  });
  const { factor, rank } = pivotedCholesky(among, rows.length, 1e-4);
  const count = members.length;
  const truthCount = size - bankSize;
  return Array.from({ length: DRAWS_PER_TRUTH * truthCount }, (_, k) => {
    const truth = bankSize + (k % truthCount);
    const along = Float64Array.from(members, (j) => correlations[j * size + truth]);
    const z = drawNormal(factor, rank, rows.length, random);
    const own = z[count + (k % truthCount)];
    return {
      truth,
      beside: along.map((value, i) => z[i] - own * value),
      along,
      scale: knowledge.shrink * scaleAt(knowledge.scaleSd, Math.floor(k / truthCount)),
    };
  });
}

function drawNormal(factor: Float64Array, rank: number, count: number, random: RandomGenerator): Float64Array {
  const unit = Float64Array.from({ length: rank }, () => random.normal());
  const z = new Float64Array(count);
  for (let i = 0; i < count; i++) for (let k = 0; k < rank; k++) z[i] += factor[i * rank + k] * unit[k];
  return z;
}

/** How fast the averaged score grows with the noise along the true dip; moves the row. */
function slopeAlong(
  draw: ScoreDraw,
  row: Float64Array,
  { score, weights }: { readonly score: number; readonly weights: Float64Array },
): number {
  const step = 0.01;
  for (let i = 0; i < row.length; i++) row[i] += step * draw.scale * draw.along[i];
  return (averagedScore(row, weights) - score) / step;
}
