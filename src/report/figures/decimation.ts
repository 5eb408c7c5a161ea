import { decimalExponent, powerOfTen } from "./decimal-power.js";
/** A series thinned for drawing; `null` breaks the line where readings are missing. */
export interface DrawnSeries {
  readonly x: number[];
  readonly y: (number | null)[];
  /** Whether readings were left out. */
  readonly thinned: boolean;
}

/** What is drawn: `factor` times the values, less `minus` where it is given. */
export interface SeriesValues {
  readonly values: Float64Array;
  readonly minus?: Float64Array;
  readonly factor: number;
}

interface SeriesWindow {
  readonly timesS: Float64Array;
  /** Half-open range of indices. */
  readonly start: number;
  readonly end: number;
  /** Largest number of bins along the axis; each keeps its lowest and its highest value. */
  readonly binCount: number;
  readonly gaps: readonly { readonly startS: number; readonly endS: number }[];
}

/**
 * Thins a series to the lowest and the highest value of each of `binCount` equal spans of time, in order of time, so
 * that no excursion is lost; a short series stays whole. Values are rounded to `stepY`, times to a thousandth of a bin.
 */
export function thinned(window: SeriesWindow, series: SeriesValues, stepY: number): DrawnSeries {
  const { timesS, start, end, binCount } = window;
  const whole = end - start <= 2 * binCount;
  const kept = whole ? range(start, end) : lowestAndHighest(window, series);
  const spanS = end > start ? timesS[end - 1]! - timesS[start]! : 0;
  const roundX = rounder(spanS > 0 ? spanS / binCount / 1000 : 1e-3);
  const roundY = rounder(stepY);
  const x: number[] = [];
  const y: (number | null)[] = [];
  let nextGap = 0;
  let lastS = Number.NEGATIVE_INFINITY;
  for (const index of kept) {
    const timeS = timesS[index]!;
    while (nextGap < window.gaps.length && middle(window.gaps[nextGap]!) < timeS) {
      if (middle(window.gaps[nextGap]!) > lastS && x.length > 0) {
        x.push(roundX(middle(window.gaps[nextGap]!)));
        y.push(null);
      }
      nextGap++;
    }
    x.push(roundX(timeS));
    y.push(roundY(valueAt(series, index)));
    lastS = timeS;
  }
  return { x, y, thinned: !whole };
}

/** Mean of the series in each of the bins that holds a reading, at the mean time of those readings. */
export function binMeans(window: SeriesWindow, series: SeriesValues, stepY: number): { x: number[]; y: number[] } {
  const { timesS, start, end, binCount } = window;
  const binS = end > start ? (timesS[end - 1]! - timesS[start]!) / binCount : 0;
  const roundX = rounder(binS > 0 ? binS / 100 : 1e-3);
  const roundY = rounder(stepY);
  const x: number[] = [];
  const y: number[] = [];
  for (let from = start, bin = 1; from < end; bin++) {
    const until = bin >= binCount ? end : Math.min(end, indexAt(timesS, timesS[start]! + bin * binS));
    if (until <= from) continue;
    let sumS = 0;
    let sum = 0;
    for (let i = from; i < until; i++) {
      sumS += timesS[i]!;
      sum += valueAt(series, i);
    }
    x.push(roundX(sumS / (until - from)));
    y.push(roundY(sum / (until - from)));
    from = until;
  }
  return { x, y };
}

/** First index whose time is not before `timeS`. */
export function indexAt(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const mid = (low + high) >>> 1;
    if (timesS[mid]! < timeS) low = mid + 1;
    else high = mid;
  }
  return low;
}

/** Rounds to the decimal place at or just below `step`, so that figures stay short in the file. */
export function rounder(step: number): (value: number) => number {
  if (!(step > 0 && Number.isFinite(step))) return (value) => value;
  const scale = powerOfTen(Math.min(12, Math.max(0, -decimalExponent(step))));
  return (value) => Math.round(value * scale) / scale;
}

function valueAt({ values, minus, factor }: SeriesValues, index: number): number {
  return factor * (values[index]! - (minus === undefined ? 0 : minus[index]!));
}

function lowestAndHighest(window: SeriesWindow, { values, minus }: SeriesValues): number[] {
  const { timesS, start, end, binCount } = window;
  const kept: number[] = [];
  const firstS = timesS[start]!;
  const binS = (timesS[end - 1]! - firstS) / binCount;
  for (let from = start, bin = 1; from < end; bin++) {
    const until = bin >= binCount ? end : Math.min(end, indexAt(timesS, firstS + bin * binS));
    if (until <= from) continue;
    const [lowest, highest] =
      minus === undefined ? extremes(values, from, until) : extremesOfDifference(values, minus, from, until);
    if (lowest >= 0) kept.push(Math.min(lowest, highest));
    if (lowest !== highest) kept.push(Math.max(lowest, highest));
    from = until;
  }
  return kept;
}

function extremes(values: Float64Array, from: number, until: number): [number, number] {
  let lowest = -1;
  let highest = -1;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = from; i < until; i++) {
    const value = values[i]!;
    if (value < low) {
      low = value;
      lowest = i;
    }
    if (value > high) {
      high = value;
      highest = i;
    }
  }
  return [lowest, highest];
}

function extremesOfDifference(
  values: Float64Array,
  minus: Float64Array,
  from: number,
  until: number,
): [number, number] {
  const difference = new Float64Array(until - from);
  for (let i = from; i < until; i++) difference[i - from] = values[i]! - minus[i]!;
  const [lowest, highest] = extremes(difference, 0, difference.length);
  return lowest < 0 ? [-1, -1] : [lowest + from, highest + from];
}

function middle(gap: { readonly startS: number; readonly endS: number }): number {
  return (gap.startS + gap.endS) / 2;
}

function range(start: number, end: number): number[] {
  return Array.from({ length: Math.max(0, end - start) }, (_, i) => start + i);
}
