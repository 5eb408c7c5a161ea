import type { EdgeField } from "./edge-field.js";
import type { Rhythm, TrainBank } from "./train-bank.js";
import {
  type Family,
  placesOf,
  rankOf,
  type ScanResult,
  shiftedEnergies,
  type TrainCounts,
  trainSteps,
  visitFamilies,
} from "./train-scan.js";

/** How many of the best rhythms of each number of switchings are held against their own scatter. */
const KEPT = 5;

type Candidate = Omit<ScanResult, "trainCounts">;

const rankOfCandidate = ({ score, rarity }: Candidate) => rankOf(score, rarity);

/**
 * The train that stands out most.
 *
 * On long recordings each of the best rhythms is held against its own scatter over the recording (median absolute
 * deviation), so that noise which the model does not know costs power and not false alarms.
 */
export function scanTrains(field: EdgeField, bank: TrainBank): ScanResult | null {
  const kept = new Map<number, Candidate[]>();
  const first = bank.rhythms.length > FEW_RHYTHMS ? bank.rhythms.filter(isCoarse) : bank.rhythms;
  keepBest(field, bank, first, kept);
  if (first.length < bank.rhythms.length) {
    const leaders = [...kept.values()].flatMap((own) => own.slice(0, LEADERS)).map(({ train }) => train.rhythm);
    const isLikely = (one: Rhythm) => !isCoarse(one) && leaders.some((leader) => isBeside(one, leader));
    keepBest(field, bank, bank.rhythms.filter(isLikely), kept);
  }
  const candidates = [...kept.values()].flat();
  const scaled = field.covariance.everywhere ? candidates : candidates.map((one) => againstOwnScatter(field, one));
  const winner = scaled.sort((a, b) => rankOfCandidate(b) - rankOfCandidate(a))[0];
  return winner === undefined ? null : { ...winner, trainCounts: countTrains(field, bank) };
}

/** Up to so many rhythms, as about a stated cadence, all are tried at once. */
const FEW_RHYTHMS = 200;

/** Every second time of the longer ones: the other rhythms are tried beside the best of these. */
function isCoarse({ onSteps, offSteps }: Rhythm): boolean {
  const isKept = (steps: number) => steps < FEW_STEPS || steps % 2 === 0;
  return isKept(onSteps) && isKept(offSteps);
}

const FEW_STEPS = 14;
/** Best rhythms of each number of switchings whose neighbours are tried. */
const LEADERS = 3;

function isBeside(a: Rhythm, b: Rhythm): boolean {
  const isNear = (one: number, other: number) => Math.abs(one - other) <= Math.max(1, 0.06 * other);
  return isNear(a.onSteps, b.onSteps) && isNear(a.offSteps, b.offSteps);
}

/** How many trains the whole bank has in this field, by rarity. */
function countTrains(field: EdgeField, bank: TrainBank): TrainCounts {
  const counts = new Map<number, number>();
  for (const rhythm of bank.rhythms) {
    for (let switchingCount = 1; switchingCount <= bank.mostSwitchings; switchingCount++) {
      const count = placesOf(field, rhythm, switchingCount);
      if (count < 1) break;
      if (switchingCount < bank.fewestSwitchings) continue;
      const rarity = rhythm.rarity + bank.countRarities[switchingCount - 1];
      counts.set(rarity, (counts.get(rarity) ?? 0) + count);
    }
  }
  return counts;
}

/** Adds the best trains of these rhythms to the best ones of each number of switchings. */
function keepBest(field: EdgeField, bank: TrainBank, rhythms: readonly Rhythm[], kept: Map<number, Candidate[]>): void {
  visitFamilies(field, { ...bank, rhythms }, (family) => {
    const { rhythm, switchingCount } = family;
    const rarity = rhythm.rarity + bank.countRarities[switchingCount - 1];
    const { first, score, energy } = bestOf(family);
    const own = kept.get(switchingCount) ?? [];
    own.push({ train: { rhythm, switchingCount, first }, score, rarity, uDepthV: 1 / Math.sqrt(energy), scatter: 1 });
    own.sort((a, b) => rankOfCandidate(b) - rankOfCandidate(a));
    own.length = Math.min(own.length, KEPT);
    kept.set(switchingCount, own);
  });
}

function bestOf({ sums, energies, even, count, largestAt }: Family) {
  if (even) {
    const score = energies[0] > 0 ? sums[largestAt] / Math.sqrt(energies[0]) : 0;
    return { first: largestAt, score, energy: energies[0] };
  }
  let first = 0;
  let score = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < count; k++) {
    const own = energies[k] > 0 ? sums[k] / Math.sqrt(energies[k]) : 0;
    if (own > score) {
      score = own;
      first = k;
    }
  }
  return { first, score, energy: energies[first] };
}

/** Fewest trains side by side that make the scatter known well enough to lower it. Chosen. */
const ENOUGH_TRAINS = 20;

/** Scores looked at for their scatter: neighbours on the grid are all but the same. */
const MOST_MAGNITUDES = 2500;

/**
 * A train's score over the scatter of its like at all places, less what its own dips, overlapping with themselves, make of
 * them: where a train is not much shorter than the recording, clear dips would be held against their own size.
 */
function againstOwnScatter(field: EdgeField, candidate: Candidate): Candidate {
  const { train } = candidate;
  const { rhythm, switchingCount } = train;
  const single: TrainBank = {
    rhythms: [rhythm],
    fewestSwitchings: switchingCount,
    mostSwitchings: switchingCount,
    countRarities: new Array<number>(switchingCount).fill(0),
  };
  let scatter = 1;
  visitFamilies(field, single, (family) => {
    const { magnitudes, placeCount } = magnitudesOf(family, train.first, shiftedEnergies(field, train));
    const measured = 1.4826 * (magnitudes.sort()[magnitudes.length >> 1] ?? 0);
    const sideBySide = placeCount / trainSteps(rhythm, switchingCount);
    // As much below as chance makes of it lowers nothing: else the shorter trains, of which more are seen, win by luck.
    const atMost = sideBySide < ENOUGH_TRAINS ? 1 : measured * (1 + 1 / Math.sqrt(sideBySide));
    scatter = Math.max(measured, Math.min(1, atMost));
  });
  return { ...candidate, score: candidate.score / scatter, uDepthV: candidate.uDepthV * scatter, scatter };
}

/**
 * Sizes of the scores less those that a train at `place` makes of them, and about how many places with readings they stand for;
 * `overlapOf` is its inner product with itself so many steps off.
 */
function magnitudesOf({ sums, energies, count }: Family, place: number, overlapOf: (steps: number) => number) {
  const perOverlap = energies[place] > 0 ? sums[place] / energies[place] / overlapOf(0) : 0;
  const stride = Math.max(1, Math.floor(count / MOST_MAGNITUDES));
  const out = new Float64Array(Math.ceil(count / stride));
  let used = 0;
  for (let k = 0; k < count; k += stride) {
    // Where there are no readings nothing scatters.
    if (!(energies[k] > 0 && Number.isFinite(sums[k]))) continue;
    const own = perOverlap * overlapOf(Math.abs(k - place));
    out[used++] = Math.abs(sums[k] / Math.sqrt(energies[k]) - own * Math.sqrt(energies[k]));
  }
  return { magnitudes: out.subarray(0, used), placeCount: used * stride };
}
