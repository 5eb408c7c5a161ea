import type { OnTime } from "../detection/switching-template.js";
import { cosine, sine } from "../statistics/portable-angle.js";
import { power } from "../statistics/portable-power.js";
import { type RandomGenerator, randomGenerator } from "../statistics/random.js";

/** Whole seconds on and off that a person can follow; the last off is the end. */
export interface SwitchingPattern {
  readonly onS: readonly number[];
  readonly offS: readonly number[];
  /** From the first on to the last off, seconds. */
  readonly lengthS: number;
  /** Time on, all on-times added up, seconds. */
  readonly totalOnS: number;
  /** Largest correlation with a load that cycles evenly, at any period and phase: 1 is the same. */
  readonly cycleLikeness: number;
  /** Largest correlation with itself, shifted by more than its shortest time. */
  readonly sideLobe: number;
}

export interface PatternWishes {
  readonly switchingCount: number;
  /** Mean of the times on and off, seconds. */
  readonly cadenceS: number;
  /** Longest time on, all on-times added up, seconds; null for none. */
  readonly timeLimitS: number | null;
}

const CANDIDATES = 60;
/** Shortest time that a hand can keep to the second. Common practice, no source. */
const SHORTEST_S = 2;

/**
 * Unequal times on and off, chosen so that neither a load that cycles evenly nor the pattern itself, shifted, looks like
 * it; null where the limit leaves no such pattern.
 *
 * The same wishes give the same pattern. Of a fixed number of drawn candidates the one whose greater likeness is least
 * is taken; the mean time on stays within half a second of the cadence, so that no load is on for longer than that.
 */
export function switchingPattern(wishes: PatternWishes): SwitchingPattern | null {
  const { switchingCount, cadenceS, timeLimitS } = wishes;
  const shortestS = Math.max(SHORTEST_S, Math.round(0.55 * cadenceS));
  const longestS = Math.round(1.5 * cadenceS);
  const mostOnS = Math.min(timeLimitS ?? Number.POSITIVE_INFINITY, Math.ceil((cadenceS + 0.5) * switchingCount));
  if (mostOnS < shortestS * switchingCount) return null;
  const random = randomGenerator(1000 * switchingCount + Math.round(10 * cadenceS));
  let best: SwitchingPattern | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < CANDIDATES; k++) {
    const onS = drawTimes(switchingCount, shortestS, longestS, random);
    const offS = drawTimes(switchingCount - 1, shortestS, longestS, random);
    cutTo(onS, mostOnS, shortestS);
    if (sumOf(onS) < 0.8 * Math.min(mostOnS, cadenceS * switchingCount)) continue;
    // The likeness to a cycle takes longer to find: only where the rest is better than the best so far.
    const wave = centredWave(onS, offS);
    if (sideLobe(wave, Math.min(...onS, ...offS)) >= least) continue;
    const pattern = described(onS, offS, wave);
    const worst = Math.max(pattern.cycleLikeness, pattern.sideLobe);
    if (worst < least) [best, least] = [pattern, worst];
  }
  return best;
}

/** The plain beat of the same count and cadence, for comparison. */
export function evenPattern(switchingCount: number, cadenceS: number): SwitchingPattern {
  return described(new Array(switchingCount).fill(cadenceS), new Array(switchingCount - 1).fill(cadenceS));
}

/** When the load is on if the pattern begins at `startS`. */
export function onTimesOf(pattern: SwitchingPattern, startS: number): OnTime[] {
  let timeS = startS;
  return pattern.onS.map((onS, k) => {
    const onTime = { onsetS: timeS, releaseS: timeS + onS };
    timeS += onS + (pattern.offS[k] ?? 0);
    return onTime;
  });
}

function drawTimes(count: number, shortestS: number, longestS: number, random: RandomGenerator): number[] {
  return Array.from({ length: count }, () => shortestS + Math.floor(random.uniform() * (longestS - shortestS + 1)));
}

/** Takes seconds off the longest times until their sum is allowed. */
function cutTo(timesS: number[], mostS: number, shortestS: number): void {
  for (let excess = sumOf(timesS) - mostS; excess > 0; excess--) {
    const longest = timesS.indexOf(Math.max(...timesS));
    if (timesS[longest] <= shortestS) return;
    timesS[longest] -= 1;
  }
}

function described(onS: readonly number[], offS: readonly number[], wave = centredWave(onS, offS)): SwitchingPattern {
  const totalOnS = sumOf(onS);
  const lengthS = totalOnS + sumOf(offS);
  return {
    onS,
    offS,
    lengthS,
    totalOnS,
    cycleLikeness: cycleLikeness(wave),
    sideLobe: sideLobe(wave, Math.min(...onS, ...offS)),
  };
}

/** One value per second, mean 0 and sum of squares 1. */
function centredWave(onS: readonly number[], offS: readonly number[]): Float64Array {
  const wave = new Float64Array(Math.round((sumOf(onS) + sumOf(offS)) / STEP_S));
  let at = 0;
  onS.forEach((on, k) => {
    const released = at + Math.round(on / STEP_S);
    wave.fill(1, at, released);
    at = released + Math.round((offS[k] ?? 0) / STEP_S);
  });
  const mean = wave.reduce((sum, value) => sum + value, 0) / wave.length;
  for (let i = 0; i < wave.length; i++) wave[i] -= mean;
  const size = Math.sqrt(wave.reduce((sum, value) => sum + value * value, 0));
  return size > 0 ? wave.map((value) => value / size) : wave;
}

const STEP_S = 1;
const PERIODS_S: readonly number[] = Array.from({ length: 48 }, (_, k) => 3 * power(1.05, k));

/** Largest share of the wave that a sine of any period from 3 s to half a minute explains, as a correlation. */
function cycleLikeness(wave: Float64Array): number {
  let most = 0;
  for (const periodS of PERIODS_S) {
    const turn = (2 * Math.PI * STEP_S) / periodS;
    const stepCos = cosine(turn);
    const stepSin = sine(turn);
    let [cos, sin, re, im] = [1, 0, 0, 0];
    for (const value of wave) {
      re += value * cos;
      im += value * sin;
      [cos, sin] = [cos * stepCos - sin * stepSin, sin * stepCos + cos * stepSin];
    }
    most = Math.max(most, (2 * (re * re + im * im)) / wave.length);
  }
  return Math.sqrt(Math.min(1, most));
}

function sideLobe(wave: Float64Array, shortestS: number): number {
  let most = 0;
  for (let lag = Math.round(shortestS / STEP_S); lag < wave.length; lag++) {
    let sum = 0;
    for (let i = lag; i < wave.length; i++) sum += wave[i] * wave[i - lag];
    most = Math.max(most, Math.abs(sum));
  }
  return most;
}

function sumOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0);
}
