import { choleskyInPlace } from "../statistics/cholesky.js";
import { normalSurvival, studentTSurvival } from "../statistics/distribution.js";
import { exponential, exponentialLessOne, logarithm } from "../statistics/portable-exponential.js";
import type { RandomGenerator } from "../statistics/random.js";
import type { EdgeField } from "./edge-field.js";
import type { Rhythm, TrainBank } from "./train-bank.js";
import { isSeen, scoreAtRank, type TrainCounts, trainEdges, trainEnergies, trainSteps } from "./train-scan.js";

/** Error rates of the best of many overlapping trains, by its rank: see `rankOf`. */
export interface ScanProbability {
  /** Probability that the best rank of the scan reaches `rank` without any dip. */
  pValue(rank: number): number;
  /** Rank that is reached with the given probability without any dip. */
  criticalRank(falseAlarmRate: number): number;
  /** What the draws told; null as long as none were needed. Holds for every field of the same covariance and bank. */
  clumps(): Clumps | null;
}

/** Logarithms of the mean of one over the size of a clump, at each level. */
export type Clumps = readonly number[];

/** Clumps differ by a factor of a thousand, and the few small ones make the mean: fewer draws put the rank 0.1 off. */
const DRAWS = 200;
/** Larger clumps count as this one: they add nothing to the mean. */
const LARGEST_CLUMP = 400;
/** Rank from which on the sum of the single probabilities is a good enough bound. */
const BEYOND_DOUBT = 10;

/**
 * Chance that noise alone makes one of so many overlapping trains reach a rank.
 *
 * Overlapping trains exceed together. The sum of their single probabilities is divided by the mean size of such a clump,
 * drawn under the condition that one of them exceeds; nothing has to be assumed about the shape of the noise.
 * `dof` are the degrees of freedom with which the noise itself is known (infinite: normal tail); `clumps` those of an
 * earlier scan with the same covariance.
 *
 * Source: Naiman & Priebe 2001, Journal of Computational and Graphical Statistics 10 (importance sampling for scan
 * statistics, from memory).
 */
export function scanProbability(
  field: EdgeField,
  bank: TrainBank,
  trainCounts: TrainCounts,
  options: { readonly dof: number; readonly random: RandomGenerator; readonly clumps?: Clumps | null },
): ScanProbability {
  // Clumps grow slowly as the rank falls: two levels and a line between them are enough.
  const levels = [4, 5.5];
  let logShares = options.clumps ?? null;
  const share = (rank: number) => {
    // Far beyond doubt the size of the clump does not matter: the bound without it is given.
    if (rank > BEYOND_DOUBT) return 1;
    logShares ??= logMeanShares(field, bank, levels, options.random);
    const t = Math.max(-1, Math.min(2, (rank - levels[0]) / (levels[1] - levels[0])));
    return Math.min(1, exponential(logShares[0] + t * (logShares[1] - logShares[0])));
  };
  const single = (score: number) =>
    Number.isFinite(options.dof) ? studentTSurvival(score, options.dof) : normalSurvival(score);
  const pValue = (rank: number) => {
    let expected = 0;
    for (const [rarity, count] of trainCounts) expected += count * single(scoreAtRank(rank, rarity));
    return -exponentialLessOne(-expected * share(rank));
  };
  return {
    pValue,
    clumps: () => logShares,
    criticalRank: (rate) => {
      let low = 1;
      let high = 12;
      for (let k = 0; k < 40; k++) {
        const middle = (low + high) / 2;
        if (pValue(middle) > rate) low = middle;
        else high = middle;
      }
      return (low + high) / 2;
    },
  };
}

/**
 * Logarithm of the mean of one over the number of trains above each level, given that a train picked at random is.
 *
 * The noise beside the picked train serves several of them, and its excess over the level is taken at even steps of its
 * distribution.
 */
function logMeanShares(field: EdgeField, bank: TrainBank, levels: readonly number[], random: RandomGenerator): Clumps {
  const { matrix, size } = field.covariance;
  const draw = sampler(field);
  const neighbours = nearRhythms(field, bank);
  const beside = new Float64Array(size);
  const along = new Float64Array(size);
  const drawn = new Float64Array(size);
  const sums = new Float64Array(levels.length);
  let count = 0;
  for (let k = 0; k < DRAWS; k++) {
    if (k % SAME_NOISE === 0) draw(random, beside);
    const excess = -logarithm((scattered(k) + random.uniform()) / DRAWS);
    const picked = pickTrain(field, bank, random);
    if (picked === null) continue;
    const { at, sign } = trainEdges(picked);
    const energy = energyAt(matrix, size, at, sign);
    if (!isSeen(energy, matrix[at[0] * (size + 1)] + matrix[at[1] * (size + 1)])) continue;
    along.fill(0);
    let met = 0;
    for (let e = 0; e < at.length; e++) {
      const row = at[e] * size;
      for (let i = 0; i < size; i++) along[i] += sign[e] * matrix[row + i];
      met += sign[e] * beside[at[e]];
    }
    const rarity = picked.rhythm.rarity + bank.countRarities[picked.switchingCount - 1];
    for (let l = 0; l < levels.length; l++) {
      const own = scoreAtRank(levels[l], rarity);
      const pull = ((own + excess / own) * Math.sqrt(energy) - met) / energy;
      for (let i = 0; i < size; i++) drawn[i] = beside[i] + pull * along[i];
      sums[l] += 1 / Math.max(1, exceeding(field, bank, drawn, picked, levels[l], neighbours(picked.rhythm)));
    }
    count += 1;
  }
  return Array.from(sums, (sum) => (count === 0 ? 0 : logarithm(sum / count)));
}

/** So many trains are picked beside the same noise: drawing it anew for each takes half as long again and tells no more. */
const SAME_NOISE = 4;

/** Steps of the excess in an order in which neighbours are far apart: every whole number below `DRAWS` once. */
function scattered(k: number): number {
  return (k * 77) % DRAWS;
}

type Sampler = (random: RandomGenerator, out: Float64Array) => void;

/** Draws products as noise alone would make them. */
function sampler(field: EdgeField): Sampler {
  const { matrix, size } = field.covariance;
  const factor = Float64Array.from(matrix);
  let ridge = 1e-9;
  for (;;) {
    for (let i = 0; i < size; i++) factor[i * size + i] += ridge * Math.max(matrix[i * size + i], matrix[0]);
    if (choleskyInPlace(factor, size)) break;
    // Points without readings make the matrix singular: help it as little as needed.
    factor.set(matrix);
    ridge *= 30;
  }
  const unit = new Float64Array(size);
  return (random, out) => {
    for (let i = 0; i < size; i++) unit[i] = random.normal();
    for (let i = 0; i < size; i++) {
      let sum = 0;
      for (let k = 0; k <= i; k++) sum += factor[i * size + k] * unit[k];
      out[i] = sum;
    }
  };
}

interface PlacedTrain {
  readonly rhythm: Rhythm;
  readonly switchingCount: number;
  readonly first: number;
}

/** A train of the bank, each as likely as its weight and the places it has, put where the covariance is known. */
function pickTrain(field: EdgeField, bank: TrainBank, random: RandomGenerator): PlacedTrain | null {
  const { size } = field.covariance;
  const points = field.products.length;
  for (let attempt = 0; attempt < 2000; attempt++) {
    const rhythm = bank.rhythms[Math.floor(random.uniform() * bank.rhythms.length)];
    const span = bank.mostSwitchings - bank.fewestSwitchings + 1;
    const switchingCount = bank.fewestSwitchings + Math.floor(random.uniform() * span);
    const steps = trainSteps(rhythm, switchingCount);
    if (steps >= size) continue;
    // Short trains have more places: keep each place as likely as any other.
    const weight = exponential(-rhythm.rarity - bank.countRarities[switchingCount - 1]);
    if (random.uniform() * points > (points - steps) * weight) continue;
    return { rhythm, switchingCount, first: Math.floor(random.uniform() * (size - steps)) };
  }
  return null;
}

function energyAt(matrix: Float64Array, size: number, at: Int32Array, sign: Int8Array): number {
  let sum = 0;
  for (let i = 0; i < at.length; i++) {
    for (let j = 0; j < at.length; j++) sum += sign[i] * sign[j] * matrix[at[i] * size + at[j]];
  }
  return sum;
}

/** A rhythm and the energies of its trains. */
interface NearRhythm {
  readonly rhythm: Rhythm;
  readonly energies: readonly Float64Array[];
}

/** Rhythms like a given one, the likest first, each list made once. */
function nearRhythms(field: EdgeField, bank: TrainBank): (picked: Rhythm) => readonly NearRhythm[] {
  const energies = new Map<Rhythm, NearRhythm>();
  const lists = new Map<Rhythm, readonly NearRhythm[]>();
  const withEnergies = (rhythm: Rhythm): NearRhythm => {
    const known = energies.get(rhythm) ?? { rhythm, energies: trainEnergies(field, rhythm, bank.mostSwitchings) };
    energies.set(rhythm, known);
    return known;
  };
  return (picked) => {
    const unlikeness = ({ onSteps, offSteps }: Rhythm) =>
      Math.abs(onSteps - picked.onSteps) + Math.abs(offSteps - picked.offSteps);
    const list =
      lists.get(picked) ??
      bank.rhythms
        .filter(({ onSteps, offSteps }) => isNear(onSteps, picked.onSteps) && isNear(offSteps, picked.offSteps))
        .sort((a, b) => unlikeness(a) - unlikeness(b))
        .map(withEnergies);
    lists.set(picked, list);
    return list;
  };
}

/** Trains above the level among those that overlap the picked one and are like it. */
function exceeding(
  field: EdgeField,
  bank: TrainBank,
  drawn: Float64Array,
  picked: PlacedTrain,
  level: number,
  near: readonly NearRhythm[],
): number {
  const period = picked.rhythm.onSteps + picked.rhythm.offSteps;
  const reach = Math.ceil(1.5 * period);
  const { size } = field.covariance;
  const from = Math.max(0, picked.first - reach);
  const sums = new Float64Array(size);
  let found = 0;
  for (const { rhythm, energies } of near) {
    const { onSteps, offSteps } = rhythm;
    sums.fill(0);
    for (let switchings = 1; switchings <= energies.length; switchings++) {
      const to = Math.min(size - trainSteps(rhythm, switchings) - 1, picked.first + reach);
      const onset = from + (switchings - 1) * (onSteps + offSteps);
      const count = to - from + 1;
      const own = scoreAtRank(level, rhythm.rarity + bank.countRarities[switchings - 1]);
      const above = addDips(sums, count, drawn, onset, onset + onSteps, energies[switchings - 1], from, own);
      if (switchings < bank.fewestSwitchings) continue;
      found += above;
      if (found > LARGEST_CLUMP) return found;
    }
  }
  return found;
}

/**
 * Adds the dips between two edges to the first sums, and tells how many of these now exceed the level. The energies are
 * one for all, or by place from `from` on.
 */
function addDips(
  sums: Float64Array,
  count: number,
  drawn: Float64Array,
  onset: number,
  release: number,
  energies: Float64Array,
  from: number,
  level: number,
): number {
  let found = 0;
  if (energies.length === 1) {
    const limit = level * Math.sqrt(energies[0]);
    for (let k = 0; k < count; k++) {
      const sum = sums[k] + drawn[onset + k] - drawn[release + k];
      sums[k] = sum;
      if (sum > limit) found += 1;
    }
    return energies[0] > 0 ? found : 0;
  }
  for (let k = 0; k < count; k++) {
    const sum = sums[k] + drawn[onset + k] - drawn[release + k];
    sums[k] = sum;
    if (energies[from + k] > 0 && sum > level * Math.sqrt(energies[from + k])) found += 1;
  }
  return found;
}

/** Rhythms farther off hardly exceed together; leaving them out errs on the safe side. */
const NEAR = 1.25;

function isNear(a: number, b: number): boolean {
  return a <= NEAR * b && b <= NEAR * a;
}
