import type { EdgeField } from "./edge-field.js";
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
  /** Standard uncertainty of the train's depth, volts. */
  readonly uDepthV: number;
  readonly trainCount: number;
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

/** Adds to each train's sum the dip whose onset stands `onset` steps after its first. */
function addDips(field: EdgeField, sums: Float64Array, onset: number, onSteps: number, count: number): void {
  const { products, blocked } = field;
  for (let first = 0; first < count; first++) {
    const at = first + onset;
    sums[first] += products[at] - products[at + onSteps];
    // A sum that once met a blocked edge stays out.
    if (blocked[at] + blocked[at + onSteps] > 0) sums[first] = Number.NEGATIVE_INFINITY;
  }
}

/** Visits every train of the bank with its score; `scores` are those of all first onsets, valid for `count` of them. */
export function visitTrains(
  field: EdgeField,
  bank: TrainBank,
  visit: (rhythm: Rhythm, switchingCount: number, scores: Float64Array, energies: Float64Array, count: number) => void,
): void {
  const { products, stepS, covariance } = field;
  const points = products.length;
  const longest = Math.floor(LONGEST_TRAIN_S / stepS);
  const sums = new Float64Array(points);
  const scores = new Float64Array(points);
  const energies = new Float64Array(points);
  for (const rhythm of bank.rhythms) {
    const period = rhythm.onSteps + rhythm.offSteps;
    sums.fill(0);
    for (let switchings = 1; switchings <= bank.mostSwitchings; switchings++) {
      const steps = trainSteps(rhythm, switchings);
      const count = points - steps;
      if (count < 1 || (switchings > 1 && steps > Math.min(longest, covariance.size - 1))) break;
      if (steps >= covariance.size) break;
      addDips(field, sums, (switchings - 1) * period, rhythm.onSteps, count);
      if (switchings < bank.fewestSwitchings) continue;
      fillEnergies(field, rhythm, switchings, energies, count);
      for (let first = 0; first < count; first++) {
        scores[first] = energies[first] > 0 ? sums[first] / Math.sqrt(energies[first]) : 0;
      }
      visit(rhythm, switchings, scores, energies, count);
    }
  }
}

function fillEnergies(
  field: EdgeField,
  rhythm: Rhythm,
  switchingCount: number,
  out: Float64Array,
  count: number,
): void {
  if (!field.covariance.everywhere) {
    out.fill(trainEnergy(field, { rhythm, switchingCount, first: 0 }), 0, count);
    const { precisionSums } = field;
    if (precisionSums === null) return;
    // Over the length of a train the noise is that of the covariance, larger or smaller as a whole.
    const points = trainSteps(rhythm, switchingCount) + 1;
    for (let first = 0; first < count; first++) {
      out[first] *= (precisionSums[first + points] - precisionSums[first]) / points;
    }
    return;
  }
  const { matrix, size } = field.covariance;
  const { at, sign } = trainEdges({ rhythm, switchingCount, first: 0 });
  const edges = at.length;
  for (let first = 0; first < count; first++) {
    let sum = 0;
    for (let i = 0; i < edges; i++) {
      const row = (at[i] + first) * size + first;
      // Twice the part above the diagonal.
      let above = 0;
      for (let j = i + 1; j < edges; j++) above += sign[j] * matrix[row + at[j]];
      sum += matrix[row + at[i]] + 2 * sign[i] * above;
    }
    out[first] = sum;
  }
}

/** How many of the best rhythms of each number of switchings are held against their own scatter. */
const KEPT = 5;

interface Candidate {
  readonly train: Train;
  readonly score: number;
  readonly uDepthV: number;
}

/**
 * The train that stands out most.
 *
 * On long recordings each of the best rhythms is held against its own scatter over the recording (median absolute
 * deviation), so that noise which the model does not know costs power and not false alarms.
 */
export function scanTrains(field: EdgeField, bank: TrainBank): ScanResult | null {
  const kept = new Map<number, Candidate[]>();
  let trainCount = 0;
  visitTrains(field, bank, (rhythm, switchingCount, scores, energies, count) => {
    trainCount += count;
    let top = 0;
    for (let first = 1; first < count; first++) if (scores[first] > scores[top]) top = first;
    const own = kept.get(switchingCount) ?? [];
    const train = { rhythm, switchingCount, first: top };
    own.push({ train, score: scores[top], uDepthV: 1 / Math.sqrt(energies[top]) });
    own.sort((a, b) => b.score - a.score);
    own.length = Math.min(own.length, KEPT);
    kept.set(switchingCount, own);
  });
  const candidates = [...kept.values()].flat();
  const scaled = field.covariance.everywhere ? candidates : candidates.map((one) => againstOwnScatter(field, one));
  const winner = scaled.sort((a, b) => b.score - a.score)[0];
  return winner === undefined ? null : { ...winner, trainCount };
}

/** Fewest trains side by side that make the scatter known well enough to lower it. */
const ENOUGH_TRAINS = 40;

function againstOwnScatter(field: EdgeField, candidate: Candidate): Candidate {
  const { rhythm, switchingCount } = candidate.train;
  const single = { rhythms: [rhythm], fewestSwitchings: switchingCount, mostSwitchings: switchingCount };
  let scatter = 1;
  visitTrains(field, single, (_rhythm, _switchings, scores, _energies, count) => {
    const magnitudes = scores.slice(0, count).filter(Number.isFinite).map(Math.abs).sort();
    const measured = 1.4826 * magnitudes[magnitudes.length >> 1];
    const sideBySide = count / trainSteps(rhythm, switchingCount);
    scatter = sideBySide >= ENOUGH_TRAINS ? measured : Math.max(1, measured);
  });
  return { ...candidate, score: candidate.score / scatter, uDepthV: candidate.uDepthV * scatter };
}
