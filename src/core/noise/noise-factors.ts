import { chiSquareSurvival, normalSurvival } from "../statistics/distribution.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";

/** How the noise of a recording swells and fades. */
export interface NoiseFactors {
  /** Size of the noise at each reading relative to its middle; 1 everywhere for steady noise. */
  readonly factors: Float64Array;
  /** Largest over smallest factor. */
  readonly ratio: number;
}

/** Fewest second differences, and fewest seconds, that make a window's scatter worth comparing. */
const FEWEST_IN_WINDOW = 40;
const SHORTEST_WINDOW_S = 4;
const FEWEST_WINDOWS = 4;
/** Share of the largest differences of a window that is left out: the edges of dips, and outliers. */
const LEFT_OUT = 0.1;
/**
 * Variance of the logarithm of a window's scatter, times the number of its differences: that of a trimmed
 * mean of correlated differences, rounded up. The rate of false finds that it gives is held by the tests.
 */
const VARIANCE_TIMES_COUNT = 1.3;
/** Chance to find steady noise unsteady, and the ratio below which it does not matter. */
const LEVEL = 1e-3;
const LEAST_RATIO = 1.5;

/** Windows overlap by three quarters, so that a burst fills one of them wherever it starts. */
const OVERLAP = 4;
/** Standard deviations within which a window's scatter is taken for the common one. */
const ORDINARY = 2;

/**
 * Compares the reading-to-reading scatter of short windows; null where the noise is as steady as chance allows.
 *
 * Uses second differences, which neither drift nor a step moves. Each window's scatter is drawn towards the common one by
 * what chance alone would make of it; a reading has the largest size of the windows that hold it.
 *
 * Source: shrinkage by the positive part after Stein 1981, The Annals of Statistics 9 (from memory).
 */
export function noiseFactors(
  timesS: Float64Array,
  valuesV: Float64Array,
  readingCounts: Float64Array,
): NoiseFactors | null {
  const windows = windowsOf(timesS, valuesV, readingCounts);
  const apart = windows.filter((_, k) => k % OVERLAP === 0);
  if (apart.length < FEWEST_WINDOWS) return null;
  const middle = median(Float64Array.from(windows, ({ logScatter }) => logScatter));
  if (!isUnsteady(apart.map(({ logScatter, variance }) => (logScatter - middle) / Math.sqrt(variance)))) return null;
  const logs = new Float64Array(timesS.length).fill(Number.NEGATIVE_INFINITY);
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const { start, end, logScatter, variance } of windows) {
    const off = logScatter - middle;
    const own = off * Math.max(0, 1 - (squared(ORDINARY) * variance) / squared(off));
    for (let i = start; i < end; i++) logs[i] = Math.max(logs[i], own);
    least = Math.min(least, own);
    most = Math.max(most, own);
  }
  if (most - least < logarithm(LEAST_RATIO)) return null;
  // A stretch of equal readings (a meter at its end, a display that stands still) has no scatter to go by.
  return {
    factors: logs.map((log) => (log > Number.NEGATIVE_INFINITY ? exponential(log) : 1)),
    ratio: exponential(most - least),
  };
}

/** Whether all together, or one alone, differ from the middle by more than chance makes them; half of the level each. */
function isUnsteady(off: readonly number[]): boolean {
  const chiSquare = off.reduce((sum, one) => sum + squared(one), 0);
  const furthest = off.reduce((most, one) => Math.max(most, Math.abs(one)), 0);
  const alone = 2 * normalSurvival(furthest) * off.length;
  return Math.min(chiSquareSurvival(chiSquare, off.length - 1), alone) < LEVEL / 2;
}

/** Readings from `start` to before `end`. */
interface Window {
  readonly start: number;
  readonly end: number;
  readonly logScatter: number;
  readonly variance: number;
}

function windowsOf(timesS: Float64Array, valuesV: Float64Array, readingCounts: Float64Array): Window[] {
  const n = timesS.length;
  const sizes = new Float64Array(n);
  for (let i = 1; i < n - 1; i++) {
    const expected = Math.sqrt(1 / readingCounts[i - 1] + 4 / readingCounts[i] + 1 / readingCounts[i + 1]);
    sizes[i] = Math.abs(valuesV[i - 1] - 2 * valuesV[i] + valuesV[i + 1]) / expected;
  }
  const windows: Window[] = [];
  let start = 1;
  while (start < n - 1) {
    let end = start;
    while (end < n - 1 && (end - start < FEWEST_IN_WINDOW || timesS[end] - timesS[start] < SHORTEST_WINDOW_S)) end += 1;
    // The last readings belong to the last full window.
    if (end - start < FEWEST_IN_WINDOW) break;
    const last = end + FEWEST_IN_WINDOW / OVERLAP >= n - 1;
    windows.push({
      start: windows.length === 0 ? 0 : start,
      end: last ? n : end,
      logScatter: logarithm(trimmedMean(sizes.slice(start, end))),
      variance: VARIANCE_TIMES_COUNT / (end - start),
    });
    if (last) break;
    start += Math.max(1, Math.floor((end - start) / OVERLAP));
  }
  return windows.filter(({ logScatter }) => Number.isFinite(logScatter));
}

function trimmedMean(sizes: Float64Array): number {
  const sorted = sizes.sort();
  const kept = Math.floor((1 - LEFT_OUT) * sorted.length);
  let sum = 0;
  for (let k = 0; k < kept; k++) sum += sorted[k];
  return sum / kept;
}
