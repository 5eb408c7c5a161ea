import { changePoints } from "../detection/change-point.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { robustNoise } from "../statistics/robust-scale.js";
import { blockMeans } from "./block-means.js";

/** Changes that follow each other within this many readings may be the settling of the first. */
const SETTLING_REACH = 12;
/** Longer series are searched on block means and refined afterwards. */
const MOST_SEARCHED = 50_000;

/** A change of level between two neighbouring readings. */
export interface Boundary {
  /** First reading of the new level. */
  readonly index: number;
  readonly jumpA: number;
}

/** Every change of the current that is no settling of another, in order; `sigmaA` is the noise of a reading. */
export function boundariesOf(currentsA: Float64Array, sigmaA: number): Boundary[] {
  return withoutSettling(levelChanges(currentsA, sigmaA));
}

/**
 * Places of the readings that are no stray ones: those single readings off a level that goes on after them, within three
 * tenths of the jump. What a stray one hides, as the step whose inrush it was, shows among the others.
 */
export function placesWithoutStrays(currentsA: Float64Array, sigmaA: number): Int32Array {
  let places = Int32Array.from(currentsA, (_, k) => k);
  for (;;) {
    const kept = Float64Array.from(places, (k) => currentsA[k]);
    const strays = straysAmong(levelChanges(kept, sigmaA));
    if (strays.size === 0) return places;
    places = places.filter((_, k) => !strays.has(k));
  }
}

function straysAmong(changes: readonly Boundary[]): ReadonlySet<number> {
  const strays = new Set<number>();
  changes.forEach((there, k) => {
    const back = changes[k + 1];
    // The way back from a stray reading is none itself, whatever follows it.
    if (strays.has(there.index - 1) || back?.index !== there.index + 1) return;
    if (Math.abs(there.jumpA + back.jumpA) < 0.3 * Math.abs(there.jumpA)) strays.add(there.index);
  });
  return strays;
}

function levelChanges(currentsA: Float64Array, sigmaA: number): Boundary[] {
  const blockLength = Math.ceil(currentsA.length / MOST_SEARCHED);
  const searched = blockLength === 1 ? currentsA : blockMeans(currentsA, blockLength);
  const sigma = blockLength === 1 ? sigmaA : Math.max(robustNoise(searched), sigmaA / Math.sqrt(blockLength));
  const { starts, levels } = changePoints(searched, { penalty: 4 * squared(sigma) * logarithm(searched.length) });
  const boundaries: Boundary[] = [];
  for (let k = 1; k < starts.length; k++) {
    const jumpA = levels[k] - levels[k - 1];
    const index = blockLength === 1 ? starts[k] : refined(currentsA, starts[k] * blockLength, blockLength);
    const last = boundaries.at(-1);
    // A change within a block shows as two.
    if (last === undefined || index > last.index) boundaries.push({ index, jumpA });
    else boundaries[boundaries.length - 1] = { index: last.index, jumpA: last.jumpA + jumpA };
  }
  return boundaries;
}

/**
 * A step may settle (a cold heater, a lamp): the small changes that follow it in a chain, each soon after the one
 * before and less than a fifth of the step, are part of it.
 */
function withoutSettling(boundaries: readonly Boundary[]): Boundary[] {
  const kept: Boundary[] = [];
  let lastIndex = Number.NEGATIVE_INFINITY;
  for (const boundary of boundaries) {
    const step = kept[kept.length - 1];
    const settling =
      step !== undefined &&
      boundary.index - lastIndex <= SETTLING_REACH &&
      Math.abs(boundary.jumpA) < 0.2 * Math.abs(step.jumpA);
    if (!settling) kept.push(boundary);
    lastIndex = boundary.index;
  }
  return kept;
}

/** Best single split, by least squares, of the readings around a boundary found on block means. */
function refined(currentsA: Float64Array, near: number, blockLength: number): number {
  const from = Math.max(0, near - 2 * blockLength);
  const to = Math.min(currentsA.length, near + 2 * blockLength);
  let total = 0;
  for (let k = from; k < to; k++) total += currentsA[k];
  let best = near;
  let most = 0;
  let sum = 0;
  for (let k = from + 1; k < to; k++) {
    sum += currentsA[k - 1];
    const count = k - from;
    const rest = to - k;
    const gain = (squared(sum / count - (total - sum) / rest) * count * rest) / (to - from);
    if (gain > most) {
      most = gain;
      best = k;
    }
  }
  return best;
}

/** The one with the largest jump; the first of equal ones. */
export function largestOf(boundaries: readonly Boundary[]): Boundary {
  return boundaries.reduce((most, boundary) => (Math.abs(boundary.jumpA) > Math.abs(most.jumpA) ? boundary : most));
}
