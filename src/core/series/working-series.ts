import { noiseFactors } from "../noise/noise-factors.js";
import type { SampledTimes } from "../noise/whitening.js";
import { squared } from "../statistics/portable-power.js";

/**
 * Readings prepared for judging: lone outliers left out and, where the recording is faster than needed, replaced by the
 * means of blocks on the time axis. Never interpolated.
 */
export interface WorkingSeries extends SampledTimes {
  readonly timesS: Float64Array;
  readonly valuesV: Float64Array;
  readonly readingCounts: Float64Array;
  /** Width of the blocks; 0 where each reading stands for itself. */
  readonly blockS: number;
  readonly outlierCount: number;
  /** Scatter from one raw reading to the next, divided by the square root of two; robust. */
  readonly readingScatterV: number;
  readonly medianIntervalS: number;
  /** Largest over smallest size of the noise; left out or 1 where it is steady. */
  readonly noiseRatio?: number;
}

/** Half-open range of reading indices. */
export interface IndexRange {
  readonly start: number;
  readonly end: number;
}

/** Median interval between neighbouring readings, from at most 4,001 of them. */
export function medianIntervalS(timesS: Float64Array, range: IndexRange = { start: 0, end: timesS.length }): number {
  const count = range.end - range.start - 1;
  if (count < 1) return 0;
  const stride = Math.max(1, Math.floor(count / 4000));
  const intervals: number[] = [];
  for (let i = range.start; i + 1 < range.end; i += stride) intervals.push(timesS[i + 1] - timesS[i]);
  return medianOf(Float64Array.from(intervals));
}

/** Median of a copy of the values; NaN for none. */
export function medianOf(values: Float64Array): number {
  const sorted = Float64Array.from(values).sort();
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  return n % 2 === 1 ? sorted[(n - 1) / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
}

/**
 * Robust standard deviation of one reading from the second differences of neighbours (1.4826 MAD / sqrt 6), blind to
 * drift and to steps; from at most about `most` of them. Falls back to the mean absolute difference where more than half of the readings repeat.
 */
export function readingScatterV(
  values: Float64Array,
  range: IndexRange = { start: 0, end: values.length },
  most = 8000,
): number {
  const count = range.end - range.start - 2;
  if (count < 1) return 0;
  const stride = Math.max(1, Math.floor(count / most));
  const differences: number[] = [];
  let sum = 0;
  for (let i = range.start + 1; i + 1 < range.end; i += stride) {
    const difference = Math.abs(values[i - 1] - 2 * values[i] + values[i + 1]);
    differences.push(difference);
    sum += difference;
  }
  const scatter = (1.4826 * medianOf(Float64Array.from(differences))) / Math.sqrt(6);
  // Repeated readings differ by rounding only.
  const rounding = 1e-12 * Math.max(1, Math.abs(values[range.start]));
  return scatter > rounding ? scatter : (1.2533 * sum) / differences.length / Math.sqrt(6);
}

/**
 * Prepares the readings of one range.
 *
 * `blockS` is the width of the blocks (0 keeps every reading). A reading is a lone outlier when it stands more than
 * five scatters off both neighbours and off the median of the five around it: an edge of a dip never does. `weights`
 * stand for the readings' own uncertainties; see {@link readingWeights}.
 */
export function workingSeries(
  timesS: Float64Array,
  voltagesV: Float64Array,
  range: IndexRange,
  blockS: number,
  displayStepV: number | null = null,
  weights: Float64Array | null = null,
): WorkingSeries {
  // A digit that flips is no outlier, and no meter is quieter than its rounding.
  const stepV = displayStepV ?? 0;
  const scatterV = Math.max(readingScatterV(voltagesV, range), stepV / Math.sqrt(12));
  const limits = outlierLimits(timesS, voltagesV, range, Math.max(5 * scatterV, 1.5 * stepV));
  const { times, values, counts, outlierCount } =
    blockS > 0
      ? blockMeans({ timesS, voltagesV, weights, range }, limits, blockS)
      : keptReadings({ timesS, voltagesV, weights, range }, limits);
  // Behind a coarse display the scatter hangs on where the level lies between two digits.
  const unsteady = scatterV < COARSE * stepV ? null : noiseFactors(times, values, counts);
  return {
    timesS: times,
    valuesV: values,
    readingCounts: counts,
    noiseFactors: unsteady?.factors ?? null,
    noiseRatio: unsteady?.ratio ?? 1,
    blockS,
    outlierCount,
    readingScatterV: scatterV,
    medianIntervalS: medianIntervalS(timesS, range),
  };
}

interface RawReadings {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly weights: Float64Array | null;
  readonly range: IndexRange;
}

interface PreparedReadings {
  readonly times: Float64Array;
  readonly values: Float64Array;
  readonly counts: Float64Array;
  readonly outlierCount: number;
}

/** Every reading but the lone outliers. */
function keptReadings(raw: RawReadings, limits: readonly LimitedStretch[]): PreparedReadings {
  const { timesS, voltagesV, weights, range } = raw;
  const times = new Float64Array(range.end - range.start);
  const values = new Float64Array(times.length);
  const counts = new Float64Array(times.length);
  let used = 0;
  for (const { start, end, limit } of limits) {
    for (let i = start; i < end; i++) {
      if (isLoneOutlier(voltagesV, i, range, limit)) continue;
      times[used] = timesS[i];
      values[used] = voltagesV[i];
      counts[used] = weights === null ? 1 : weights[i];
      used += 1;
    }
  }
  return {
    times: times.subarray(0, used),
    values: values.subarray(0, used),
    counts: counts.subarray(0, used),
    outlierCount: times.length - used,
  };
}

/** Means of the readings of each block but for the lone outliers; blocks without readings are left out. */
function blockMeans(raw: RawReadings, limits: readonly LimitedStretch[], blockS: number): PreparedReadings {
  const { timesS, voltagesV, weights, range } = raw;
  const startS = timesS[range.start];
  const capacity = blockCapacity(timesS, range, blockS);
  // Sums over the block, and its weight, until it is full: then its means.
  const times = new Float64Array(capacity);
  const values = new Float64Array(capacity);
  const counts = new Float64Array(capacity);
  let outlierCount = 0;
  let used = -1;
  let block = -1;
  let blockEndS = Number.NEGATIVE_INFINITY;
  for (const { start, end, limit } of limits) {
    for (let i = start; i < end; i++) {
      const v = voltagesV[i];
      if (isLoneOutlier(voltagesV, i, range, limit)) {
        outlierCount += 1;
        continue;
      }
      const t = timesS[i];
      const own = t < blockEndS ? block : Math.floor((t - startS) / blockS);
      if (own !== block) {
        used += 1;
        block = own;
        blockEndS = startS + (own + ALMOST) * blockS;
      }
      const weight = weights === null ? 1 : weights[i];
      times[used] += weight * t;
      values[used] += weight * v;
      counts[used] += weight;
    }
  }
  for (let k = 0; k <= used; k++) {
    times[k] /= counts[k];
    values[k] /= counts[k];
  }
  return {
    times: times.subarray(0, used + 1),
    values: values.subarray(0, used + 1),
    counts: counts.subarray(0, used + 1),
    outlierCount,
  };
}

/** Share of a block that surely lies in it, however the division is rounded. */
const ALMOST = 1 - 1e-6;

/** Stretches whose scatter is compared for outliers: fewest readings, fewest seconds, and most readings looked at. */
const FEWEST_IN_STRETCH = 40;
const SHORTEST_STRETCH_S = 4;
const MOST_LOOKED_AT = 160;

/** How far a reading may stand off its neighbours: five scatters of its own stretch or of the ones beside it. */
function outlierLimits(
  timesS: Float64Array,
  voltagesV: Float64Array,
  range: IndexRange,
  least: number,
): readonly LimitedStretch[] {
  const starts: number[] = [];
  const own: number[] = [];
  for (let start = range.start; start < range.end; ) {
    let end = Math.min(start + FEWEST_IN_STRETCH, range.end);
    while (end < range.end && timesS[end] - timesS[start] < SHORTEST_STRETCH_S) end += 1;
    starts.push(start);
    own.push(5 * readingScatterV(voltagesV, { start, end }, MOST_LOOKED_AT));
    start = end;
  }
  return own.map((limit, k) => ({
    start: starts[k],
    end: starts[k + 1] ?? range.end,
    limit: Math.max(least, limit, own[k - 1] ?? 0, own[k + 1] ?? 0),
  }));
}

/** Readings from `start` to before `end`, and how far one of them may stand off its neighbours. */
interface LimitedStretch extends IndexRange {
  readonly limit: number;
}

const COARSE = 0.7;

/** Bounds of a weight: no reading counts for nothing, nor for more than so many others. */
const LEAST_WEIGHT = 1e-3;
const MOST_WEIGHT = 25;

/**
 * Weights of readings that tell their own uncertainty, relative to the median one; null where they do not.
 *
 * Only the proportions are taken from the instrument: how large the noise is, the readings themselves say.
 */
export function readingWeights(uncertaintiesV: Float64Array | undefined): Float64Array | null {
  if (uncertaintiesV === undefined) return null;
  const typicalV = medianOf(uncertaintiesV);
  if (!(typicalV > 0)) return null;
  return uncertaintiesV.map((u) => Math.min(Math.max(squared(typicalV / u), LEAST_WEIGHT), MOST_WEIGHT));
}

function blockCapacity(timesS: Float64Array, range: IndexRange, blockS: number): number {
  const span = timesS[range.end - 1] - timesS[range.start];
  return Math.min(range.end - range.start, Math.floor(span / blockS) + 2);
}

function isLoneOutlier(values: Float64Array, i: number, range: IndexRange, limit: number): boolean {
  if (limit <= 0 || i - 1 < range.start || i + 1 >= range.end) return false;
  const value = values[i];
  const before = value - values[i - 1];
  if (Math.abs(before) <= limit) return false;
  const after = value - values[i + 1];
  if (Math.abs(after) <= limit || before > 0 !== after > 0) return false;
  if (i - 2 < range.start || i + 2 >= range.end) return true;
  return Math.abs(value - medianOfFive(values, i - 2)) > limit;
}

function medianOfFive(values: Float64Array, start: number): number {
  return values.slice(start, start + 5).sort()[2];
}
