import { currentNoise } from "../estimation/current-step.js";
import type { CurrentSeries, Recording } from "../series/recording.js";
import { medianIntervalS } from "../series/working-series.js";
import { firstAtOrAfter, type OnTime } from "./switching-template.js";

/** An on-time seen in the measured current. */
export interface CurrentOnTime extends OnTime {
  /** Settled change of the current while on, amperes, in the file's own sign. */
  readonly changeA: number;
  /** Standard uncertainty of onset and release, seconds. */
  readonly uTimeS: number;
}

/** Shortest and longest on-time that counts as a switching of a load rather than a state of the bus. */
const SHORTEST_S = 0.5;
const LONGEST_S = 300;
/** What an edge may take before the level counts as reached. */
const SETTLED_S = 0.5;

/**
 * On-times of loads in a measured current of either sign: a rise and the fall that undoes most of it.
 *
 * An edge is where the means of the readings on either side of it, over at least three readings and 0.3 s, differ most
 * and by more than eight standard deviations of such a difference, two display steps and 2 % of the range. A clamp that
 * follows slowly and a heater that settles leave the onset in its place: it is where the edge is half done. Of the two
 * directions of the current the one in which the voltage falls is taken.
 */
export function currentOnTimes(recording: Recording): CurrentOnTimes {
  const { current } = recording;
  if (current === undefined || current.timesS.length < 8) return { onTimes: [], sign: null, chargingCount: 0 };
  const edges = edgesOf(current);
  const rising = pairEdges(current, edges, 1);
  const falling = pairEdges(current, edges, -1);
  const risingV = meanFallV(recording, rising);
  const fallingV = meanFallV(recording, falling);
  const sign = risingV >= fallingV ? 1 : -1;
  const [onTimes, others] = sign === 1 ? [rising, falling] : [falling, rising];
  if (Math.max(risingV, fallingV) <= 0) return { onTimes: [], sign: null, chargingCount: onTimes.length };
  // The current falls and rises again between two switchings too, which charges nothing.
  const isPause = (other: OnTime) => onTimes.some((one) => one.releaseS === other.onsetS);
  return { onTimes, sign, chargingCount: others.filter((other) => !isPause(other)).length };
}

/** On-times of one direction of the current; `sign` is 1 where a positive current discharges. */
export interface CurrentOnTimes {
  readonly onTimes: readonly CurrentOnTime[];
  /** Null where no on-time made the voltage fall. */
  readonly sign: 1 | -1 | null;
  /** On-times of the other direction that are no pauses between two switchings. */
  readonly chargingCount: number;
}

function pairEdges(current: CurrentSeries, edges: readonly Edge[], sign: 1 | -1): CurrentOnTime[] {
  const onTimes: CurrentOnTime[] = [];
  const closed = new Set<number>();
  edges.forEach((edge, k) => {
    if (sign * edge.changeA <= 0) return;
    for (let next = k + 1; next < edges.length; next++) {
      const durationS = edges[next].timeS - edge.timeS;
      if (durationS > LONGEST_S) break;
      if (sign * edges[next].changeA > 0 || closed.has(next) || durationS < SHORTEST_S) continue;
      // Another load that came and went meanwhile is not this one's current.
      const quietS = next > k + 1 ? edges[next - 1].timeS + SETTLED_S : edge.timeS;
      const endS = edges[next].timeS - 0.08 * durationS;
      const settledA = levelBetween(current, Math.max(edge.timeS + 0.5 * durationS, Math.min(quietS, endS)), endS);
      const changeA = settledA - edge.beforeA;
      const backA = levelAfter(current, edges[next].timeS);
      if (sign * changeA < 0.2 * Math.abs(edge.changeA)) continue;
      if (Math.abs(backA - edge.beforeA) > 0.3 * Math.abs(changeA)) continue;
      const uTimeS = Math.max(edge.uTimeS, edges[next].uTimeS);
      onTimes.push({ onsetS: edge.timeS, releaseS: edges[next].timeS, changeA, uTimeS });
      closed.add(next);
      break;
    }
  });
  return onTimes;
}

/** Mean fall of the voltage during the on-times against just before them; 0 for none. */
function meanFallV(recording: Recording, onTimes: readonly CurrentOnTime[]): number {
  const { timesS, voltagesV } = recording;
  let sum = 0;
  let count = 0;
  for (const { onsetS, releaseS } of onTimes) {
    const onset = firstAtOrAfter(timesS, onsetS);
    const release = firstAtOrAfter(timesS, releaseS);
    const before = Math.max(0, onset - Math.max(2, Math.min(release - onset, 20)));
    if (release - onset < 2 || onset - before < 1) continue;
    sum += meanOf(voltagesV, before, onset) - meanOf(voltagesV, onset, release);
    count += 1;
  }
  return count === 0 ? 0 : sum / count;
}

function meanOf(values: Float64Array, start: number, end: number): number {
  let sum = 0;
  for (let i = start; i < end; i++) sum += values[i];
  return sum / (end - start);
}

interface Edge {
  readonly timeS: number;
  readonly uTimeS: number;
  readonly beforeA: number;
  readonly changeA: number;
}

function edgesOf(current: CurrentSeries): Edge[] {
  const { timesS, currentsA } = current;
  const n = timesS.length;
  const { sigmaA, quantumA } = currentNoise(currentsA);
  const intervalS = Math.max(medianIntervalS(timesS), 1e-6);
  const side = Math.max(3, Math.round(0.3 / intervalS));
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const a of currentsA) {
    low = Math.min(low, a);
    high = Math.max(high, a);
  }
  const limitA = Math.max(8 * sigmaA * Math.sqrt(2 / side), 2 * quantumA, 0.02 * (high - low));
  const sums = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) sums[i + 1] = sums[i] + currentsA[i];
  const mean = (from: number, to: number) => (sums[to] - sums[from]) / (to - from);
  const differenceAt = (i: number) => mean(i, Math.min(n, i + side)) - mean(Math.max(0, i - side), i);
  const edges: Edge[] = [];
  let i = 1;
  while (i < n) {
    if (Math.abs(differenceAt(i)) <= limitA) {
      i += 1;
      continue;
    }
    // The whole stretch above the limit with one sign is one edge, at its largest difference.
    const sign = Math.sign(differenceAt(i));
    let best = i;
    let end = i;
    while (end < n && sign * differenceAt(end) > limitA && end - i <= 3 * side) {
      if (sign * differenceAt(end) > sign * differenceAt(best)) best = end;
      end += 1;
    }
    const beforeA = mean(Math.max(0, best - 2 * side), Math.max(1, best - (side >> 1)));
    edges.push({ ...halfDone(current, best, side, beforeA), beforeA, changeA: differenceAt(best) });
    i = Math.max(end, best + 1);
  }
  return edges;
}

/** Where the edge has done half of its change, between two readings. */
function halfDone(current: CurrentSeries, best: number, side: number, beforeA: number): Pick<Edge, "timeS" | "uTimeS"> {
  const { timesS, currentsA } = current;
  const n = timesS.length;
  let afterA = 0;
  const afterEnd = Math.min(n, best + side + 1);
  for (let k = best; k < afterEnd; k++) {
    if (Math.abs(currentsA[k] - beforeA) > Math.abs(afterA - beforeA) || k === best) afterA = currentsA[k];
  }
  const half = (beforeA + afterA) / 2;
  const rising = afterA > beforeA;
  for (let k = Math.max(1, best - side); k < afterEnd; k++) {
    const past = rising ? currentsA[k] >= half : currentsA[k] <= half;
    if (!past) continue;
    const gapS = timesS[k] - timesS[k - 1];
    return { timeS: timesS[k] - gapS / 2, uTimeS: gapS / Math.sqrt(12) };
  }
  return { timeS: timesS[best], uTimeS: timesS[best] - timesS[best - 1] };
}

function levelBetween(current: CurrentSeries, startS: number, endS: number): number {
  const start = firstAtOrAfter(current.timesS, startS);
  const end = Math.max(start + 1, firstAtOrAfter(current.timesS, endS));
  let sum = 0;
  for (let i = start; i < end && i < current.timesS.length; i++) sum += current.currentsA[i];
  return sum / (Math.min(end, current.timesS.length) - start);
}

/** Level of the three readings from the third after an edge on. */
function levelAfter(current: CurrentSeries, timeS: number): number {
  const intervalS = medianIntervalS(current.timesS);
  const start = Math.min(firstAtOrAfter(current.timesS, timeS + Math.max(0.3, intervalS)), current.timesS.length - 1);
  const end = Math.min(start + 3, current.timesS.length);
  let sum = 0;
  for (let i = start; i < end; i++) sum += current.currentsA[i];
  return sum / (end - start);
}

/** Largest step in settled current between switchings of one load: a cold and a warm heater differ by less. */
const SAME_LOAD_RATIO = 1.2;

/** On-times in groups of like size, in the order of their first switching. */
export function groupsBySize(onTimes: readonly CurrentOnTime[]): readonly CurrentOnTime[][] {
  const sorted = [...onTimes].sort((a, b) => Math.abs(a.changeA) - Math.abs(b.changeA));
  const groups: CurrentOnTime[][] = [];
  for (const onTime of sorted) {
    const last = groups[groups.length - 1]?.at(-1);
    if (last !== undefined && Math.abs(onTime.changeA / last.changeA) < SAME_LOAD_RATIO)
      groups[groups.length - 1].push(onTime);
    else groups.push([onTime]);
  }
  for (const group of groups) group.sort((a, b) => a.onsetS - b.onsetS);
  return groups.sort((a, b) => a[0].onsetS - b[0].onsetS);
}
