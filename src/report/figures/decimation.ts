/** A series thinned for drawing; `null` breaks the line where readings are missing. */
export interface DrawnSeries {
  readonly x: number[];
  readonly y: (number | null)[];
  /** Whether readings were left out. */
  readonly thinned: boolean;
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
export function thinned(window: SeriesWindow, valueAt: (index: number) => number, stepY: number): DrawnSeries {
  const { timesS, start, end, binCount } = window;
  const whole = end - start <= 2 * binCount;
  const kept = whole ? range(start, end) : lowestAndHighest(window, valueAt);
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
    y.push(roundY(valueAt(index)));
    lastS = timeS;
  }
  return { x, y, thinned: !whole };
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
  const scale = 10 ** Math.min(12, Math.max(0, Math.ceil(-Math.log10(step))));
  return (value) => Math.round(value * scale) / scale;
}

function lowestAndHighest(window: SeriesWindow, valueAt: (index: number) => number): number[] {
  const { timesS, start, end, binCount } = window;
  const kept: number[] = [];
  const firstS = timesS[start]!;
  const binS = (timesS[end - 1]! - firstS) / binCount;
  for (let index = start, bin = 1; index < end; bin++) {
    const untilS = bin >= binCount ? Number.POSITIVE_INFINITY : firstS + bin * binS;
    let lowest = -1;
    let highest = -1;
    let lowestV = Number.POSITIVE_INFINITY;
    let highestV = Number.NEGATIVE_INFINITY;
    for (; index < end && timesS[index]! < untilS; index++) {
      const value = valueAt(index);
      if (value < lowestV) {
        lowestV = value;
        lowest = index;
      }
      if (value > highestV) {
        highestV = value;
        highest = index;
      }
    }
    if (lowest < 0) continue;
    kept.push(Math.min(lowest, highest));
    if (lowest !== highest) kept.push(Math.max(lowest, highest));
  }
  return kept;
}

function middle(gap: { readonly startS: number; readonly endS: number }): number {
  return (gap.startS + gap.endS) / 2;
}

function range(start: number, end: number): number[] {
  return Array.from({ length: Math.max(0, end - start) }, (_, i) => start + i);
}
