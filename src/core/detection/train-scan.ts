import type { EdgeCovariance, EdgeField } from "./edge-field.js";
import { LONGEST_TRAIN_S, type Rhythm, type TrainBank } from "./train-bank.js";

/** A train of equal dips at a place of the grid. */
export interface Train {
  readonly rhythm: Rhythm;
  readonly switchingCount: number;
  /** Grid index of the first onset. */
  readonly first: number;
}

/** The best train of a scan, and over how many trains it is the best. */
export interface ScanResult {
  readonly train: Train;
  /** Depth over its standard uncertainty. */
  readonly score: number;
  /** Of a train of that kind: see {@link rankOf}. */
  readonly rarity: number;
  /** Standard uncertainty of the train's depth, volts. */
  readonly uDepthV: number;
  /** Scatter of such trains' scores over the recording, where it was measured and counted; 1 elsewhere. */
  readonly scatter: number;
  /** How many trains there are of each rarity. */
  readonly trainCounts: TrainCounts;
}

/** Numbers of trains by their rarity. */
export type TrainCounts = ReadonlyMap<number, number>;

/**
 * The score that a train of the most usual kind would need to weigh as much.
 *
 * Trains of a usual kind are given more of the false-alarm rate than those of a rare one: each weighs by its likelihood
 * ratio, `e^(score^2 / 2)`, times the weight `e^-rarity` of its kind.
 *
 * Source: weighted multiple testing, Genovese, Roeder & Wasserman 2006, Biometrika 93, 509-524 (from memory).
 */
export function rankOf(score: number, rarity: number): number {
  return score > 0 ? Math.sqrt(Math.max(0, score * score - 2 * rarity)) : score;
}

/** The inverse of {@link rankOf}, but at a rank of 0, which many scores have. */
export function scoreAtRank(rank: number, rarity: number): number {
  return rank > 0 ? Math.sqrt(rank * rank + 2 * rarity) : rank;
}

/** Coefficients of a train's edges: fall at each onset, rise at each release. */
export function trainEdges(train: Train): { readonly at: Int32Array; readonly sign: Int8Array } {
  const { rhythm, switchingCount, first } = train;
  const at = new Int32Array(2 * switchingCount);
  const sign = new Int8Array(2 * switchingCount);
  for (let k = 0; k < switchingCount; k++) {
    at[2 * k] = first + k * (rhythm.onSteps + rhythm.offSteps);
    at[2 * k + 1] = at[2 * k] + rhythm.onSteps;
    sign[2 * k] = 1;
    sign[2 * k + 1] = -1;
  }
  return { at, sign };
}

/**
 * Inner product of a train with the same one so many steps later, under the inverse covariance of a long recording, which is the
 * same everywhere; zero where all their edges lie farther apart than that is known for.
 */
export function shiftedEnergies({ covariance }: EdgeField, train: Train): (steps: number) => number {
  const { at, sign } = trainEdges(train);
  const { size } = covariance;
  const span = at[at.length - 1] - at[0];
  const apart = productsApart(covariance, size + 2 * span);
  return (steps) => {
    if (steps - span >= size) return 0;
    let sum = 0;
    for (let i = 0; i < at.length; i++) {
      for (let j = 0; j < at.length; j++) sum += sign[i] * sign[j] * apart[Math.abs(at[j] + steps - at[i])];
    }
    return sum;
  };
}

/**
 * Inner products of two edges by how many steps they are apart, in the middle of the stretch. Beyond it they go on as they did
 * at last: edges far apart share only the level, and less of it in proportion; the products of a train's edges cancel but
 * for a small part, so that none of them may be left out.
 */
function productsApart({ matrix, size }: EdgeCovariance, most: number): Float64Array {
  const products = new Float64Array(most + 1);
  for (let steps = 0; steps <= most; steps++) {
    const first = (size - 1 - steps) >> 1;
    products[steps] =
      steps < size
        ? matrix[first * size + first + steps]
        : products[size - 1] + ((steps - size + 1) * (products[size - 1] - products[size - 3])) / 2;
  }
  return products;
}

/** Energy of a train: its own inner product under the inverse covariance, per volt squared. */
export function trainEnergy(field: EdgeField, train: Train): number {
  const { matrix, size, everywhere } = field.covariance;
  const { at, sign } = trainEdges(train);
  const shift = everywhere ? 0 : train.first - Math.floor((size - (at[at.length - 1] - train.first)) / 2);
  let sum = 0;
  for (let i = 0; i < at.length; i++) {
    for (let j = 0; j < at.length; j++) sum += sign[i] * sign[j] * matrix[(at[i] - shift) * size + at[j] - shift];
  }
  return sum;
}

/** Number of grid steps from the first onset to the last release. */
export function trainSteps(rhythm: Rhythm, switchingCount: number): number {
  return switchingCount * rhythm.onSteps + (switchingCount - 1) * rhythm.offSteps;
}

/**
 * Sums of the products of a dip at each grid point; minus infinity where an edge is blocked, so that a sum that once met
 * one stays out.
 */
function fillDips(field: EdgeField, onSteps: number, out: Float64Array): void {
  const { products, blocked } = field;
  const count = products.length - onSteps;
  for (let k = 0; k < count; k++) {
    out[k] = blocked[k] + blocked[k + onSteps] > 0 ? Number.NEGATIVE_INFINITY : products[k] - products[k + onSteps];
  }
}

/** All places of one rhythm and number of switchings: `count` first onsets from 0 on. */
export interface Family {
  readonly rhythm: Rhythm;
  readonly switchingCount: number;
  readonly count: number;
  /** First onset of the largest sum. */
  readonly largestAt: number;
  /** Sum of the products and energy at each first onset. */
  readonly sums: Float64Array;
  readonly energies: Float64Array;
  /** Whether all energies are the same. */
  readonly even: boolean;
}

/** Places of a train of this rhythm and number of switchings in the field; below 1 where it has none. */
export function placesOf({ products, stepS, covariance }: EdgeField, rhythm: Rhythm, switchingCount: number): number {
  const steps = trainSteps(rhythm, switchingCount);
  const longest = Math.min(Math.floor(LONGEST_TRAIN_S / stepS), covariance.size - 1);
  if ((switchingCount > 1 && steps > longest) || steps >= covariance.size) return 0;
  return products.length - steps;
}

export function visitFamilies(field: EdgeField, bank: TrainBank, visit: (family: Family) => void): void {
  const { products, covariance } = field;
  const points = products.length;
  const dips = new Float64Array(points);
  const sums = new Float64Array(points);
  const energies = new Float64Array(points);
  for (const rhythm of bank.rhythms) {
    const period = rhythm.onSteps + rhythm.offSteps;
    const fill = covariance.everywhere ? exactEnergies(field, rhythm, energies) : evenEnergies(field, rhythm, energies);
    fillDips(field, rhythm.onSteps, dips);
    sums.fill(0);
    for (let switchingCount = 1; switchingCount <= bank.mostSwitchings; switchingCount++) {
      const count = placesOf(field, rhythm, switchingCount);
      if (count < 1) break;
      const largestAt = addDips(sums, dips, (switchingCount - 1) * period, count);
      const even = fill(switchingCount, count);
      if (switchingCount >= bank.fewestSwitchings) {
        visit({ rhythm, switchingCount, count, largestAt, sums, energies, even });
      }
    }
  }
}

/** Adds the dips from `onset` on to the first sums, and tells where the largest of these now is. */
function addDips(sums: Float64Array, dips: Float64Array, onset: number, count: number): number {
  let largest = Number.NEGATIVE_INFINITY;
  let at = 0;
  for (let first = 0; first < count; first++) {
    const sum = sums[first] + dips[first + onset];
    sums[first] = sum;
    if (sum > largest) {
      largest = sum;
      at = first;
    }
  }
  return at;
}

/**
 * Energies of a rhythm's trains by number of switchings less one, each by first onset; only one where all are the same.
 * Variations of the noise's size are left out.
 */
export function trainEnergies(field: EdgeField, rhythm: Rhythm, mostSwitchings: number): readonly Float64Array[] {
  const { size, everywhere } = field.covariance;
  const out = new Float64Array(size);
  const fill = exactEnergies(field, rhythm, out);
  const energies: Float64Array[] = [];
  for (let switchingCount = 1; switchingCount <= mostSwitchings; switchingCount++) {
    const count = size - trainSteps(rhythm, switchingCount);
    if (count < 1) break;
    if (everywhere) {
      fill(switchingCount, count);
      energies.push(out.slice(0, count));
    } else energies.push(Float64Array.of(trainEnergy(field, { rhythm, switchingCount, first: 0 })));
  }
  return energies;
}

/** Whether a train has more than a ten-thousandth of its first edges' energy: less is left of dips that lie in a gap. */
export function isSeen(energy: number, edgesEnergy: number): boolean {
  return energy > 1e-4 * edgesEnergy;
}

/** Fills the energies of trains of so many switchings; tells whether all are the same. To be asked for 1, 2, 3 ... in turn. */
type EnergyFill = (switchings: number, count: number) => boolean;

function evenEnergies(field: EdgeField, rhythm: Rhythm, out: Float64Array): EnergyFill {
  const { precisionSums } = field;
  return (switchingCount, count) => {
    const energy = trainEnergy(field, { rhythm, switchingCount, first: 0 });
    out.fill(energy, 0, count);
    if (precisionSums === null) return true;
    // Over the length of a train the noise is that of the covariance, larger or smaller as a whole.
    const points = trainSteps(rhythm, switchingCount) + 1;
    for (let first = 0; first < count; first++) {
      out[first] *= (precisionSums[first + points] - precisionSums[first]) / points;
    }
    return false;
  };
}

/**
 * Energies from those of one switching less: the new dip's own, and twice its product with each of the others, which is
 * the same for all trains that hold the two. 0 for a train that lies in a gap.
 */
function exactEnergies(field: EdgeField, { onSteps, offSteps }: Rhythm, out: Float64Array): EnergyFill {
  const { matrix, size } = field.covariance;
  const period = onSteps + offSteps;
  /** Of two dips `apart` periods from each other, by the onset of the first. */
  const products: Float64Array[] = [];
  const exact = new Float64Array(size);
  const edges = Float64Array.from(exact, (_, k) => matrix[k * (size + 1)] + (matrix[(k + onSteps) * (size + 1)] ?? 0));
  return (switchings, count) => {
    const shift = (switchings - 1) * period;
    const farthest = new Float64Array(count);
    for (let k = 0; k < count; k++) {
      const row = k * size + k + shift;
      const below = row + onSteps * size;
      farthest[k] = matrix[row] - matrix[row + onSteps] - matrix[below] + matrix[below + onSteps];
    }
    products.push(farthest);
    for (let first = 0; first < count; first++) {
      let sum = products[0][first + shift];
      for (let apart = 1; apart < switchings; apart++) {
        sum += 2 * products[apart][first + shift - apart * period];
      }
      exact[first] += sum;
      out[first] = isSeen(exact[first], edges[first]) ? exact[first] : 0;
    }
    return false;
  };
}
