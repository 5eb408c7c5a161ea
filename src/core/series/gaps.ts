import { medianIntervalS } from "./working-series.js";

/** A stretch without readings, seconds. */
export interface Gap {
  readonly startS: number;
  readonly endS: number;
}

/**
 * Stretches without readings: longer than five times both neighbouring intervals and longer than half a second, so that
 * a logger that slows down between events has none.
 */
export function gapsIn(timesS: Float64Array): readonly Gap[] {
  const limitS = Math.max(5 * medianIntervalS(timesS), 0.5);
  const gaps: Gap[] = [];
  for (let i = 1; i < timesS.length; i++) {
    const intervalS = timesS[i] - timesS[i - 1];
    if (intervalS <= limitS) continue;
    const beforeS = i > 1 ? timesS[i - 1] - timesS[i - 2] : 0;
    const afterS = i + 1 < timesS.length ? timesS[i + 1] - timesS[i] : 0;
    if (intervalS > 5 * Math.max(beforeS, afterS)) gaps.push({ startS: timesS[i - 1], endS: timesS[i] });
  }
  return gaps;
}
