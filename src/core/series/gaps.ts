import { medianIntervalS } from "./working-series.js";

/** A stretch without readings, seconds. */
export interface Gap {
  readonly startS: number;
  readonly endS: number;
}

/**
 * Stretches between neighbouring readings that are longer than five median intervals and longer than half a second.
 */
export function gapsIn(timesS: Float64Array): readonly Gap[] {
  const limitS = Math.max(5 * medianIntervalS(timesS), 0.5);
  const gaps: Gap[] = [];
  for (let i = 1; i < timesS.length; i++) {
    if (timesS[i] - timesS[i - 1] > limitS) gaps.push({ startS: timesS[i - 1], endS: timesS[i] });
  }
  return gaps;
}
