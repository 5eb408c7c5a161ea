import type { SampledTimes } from "../noise/whitening.js";

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
 * drift and to steps. Falls back to the mean absolute difference where more than half of the readings repeat.
 */
export function readingScatterV(values: Float64Array, range: IndexRange = { start: 0, end: values.length }): number {
  const count = range.end - range.start - 2;
  if (count < 1) return 0;
  const stride = Math.max(1, Math.floor(count / 8000));
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
 * five scatters off both neighbours and off the median of the five around it: an edge of a dip never does.
 */
export function workingSeries(
  timesS: Float64Array,
  voltagesV: Float64Array,
  range: IndexRange,
  blockS: number,
  displayStepV: number | null = null,
): WorkingSeries {
  // A digit that flips is no outlier, and no meter is quieter than its rounding.
  const stepV = displayStepV ?? 0;
  const scatterV = Math.max(readingScatterV(voltagesV, range), stepV / Math.sqrt(12));
  const limit = Math.max(5 * scatterV, 1.5 * stepV);
  const capacity = blockS > 0 ? blockCapacity(timesS, range, blockS) : range.end - range.start;
  const outTimes = new Float64Array(capacity);
  const outValues = new Float64Array(capacity);
  const outCounts = new Float64Array(capacity);
  let outlierCount = 0;
  let used = 0;
  let block = Number.NaN;
  for (let i = range.start; i < range.end; i++) {
    if (isLoneOutlier(voltagesV, i, range, limit)) {
      outlierCount += 1;
      continue;
    }
    const own = blockS > 0 ? Math.floor((timesS[i] - timesS[range.start]) / blockS) : i;
    if (own !== block) {
      block = own;
      used += 1;
    }
    outTimes[used - 1] += timesS[i];
    outValues[used - 1] += voltagesV[i];
    outCounts[used - 1] += 1;
  }
  for (let k = 0; k < used; k++) {
    outTimes[k] /= outCounts[k];
    outValues[k] /= outCounts[k];
  }
  return {
    timesS: outTimes.subarray(0, used),
    valuesV: outValues.subarray(0, used),
    readingCounts: outCounts.subarray(0, used),
    blockS,
    outlierCount,
    readingScatterV: scatterV,
    medianIntervalS: medianIntervalS(timesS, range),
  };
}

function blockCapacity(timesS: Float64Array, range: IndexRange, blockS: number): number {
  const span = timesS[range.end - 1] - timesS[range.start];
  return Math.min(range.end - range.start, Math.floor(span / blockS) + 2);
}

function isLoneOutlier(values: Float64Array, i: number, range: IndexRange, limit: number): boolean {
  if (limit <= 0 || i - 1 < range.start || i + 1 >= range.end) return false;
  const value = values[i];
  const before = value - values[i - 1];
  const after = value - values[i + 1];
  if (Math.abs(before) <= limit || Math.abs(after) <= limit || before > 0 !== after > 0) return false;
  if (i - 2 < range.start || i + 2 >= range.end) return true;
  return Math.abs(value - medianOfFive(values, i - 2)) > limit;
}

function medianOfFive(values: Float64Array, start: number): number {
  return values.slice(start, start + 5).sort()[2];
}
