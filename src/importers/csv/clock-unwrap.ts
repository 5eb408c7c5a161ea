import type { LogFinding } from "./log-notes.js";
import type { PlaceOf } from "./series-set.js";

const HOUR = 3600e9;
const DAY = 24 * HOUR;
const HALF_DAY = 12 * HOUR;

/**
 * Carries clock times on past midnight, in place; ticks of a nanosecond.
 *
 * A fall of more than half a day is midnight; a fall of almost half a day while no hour exceeds twelve is a clock
 * without am and pm starting over.
 */
export function unwrapClock(ticks: Float64Array, placeOf: PlaceOf): LogFinding[] {
  const twelve = ticks.every((tick) => tick < 13 * HOUR);
  let carried = 0;
  const met = { midnight: { count: 0, row: 0 }, twelve: { count: 0, row: 0 } };
  let previous = ticks[0] ?? 0;
  for (let i = 1; i < ticks.length; i += 1) {
    const raw = ticks[i]!;
    const fall = previous - raw;
    const kind =
      fall > 0.75 * DAY ? "midnight" : twelve && fall > 0.9 * HALF_DAY && fall < 1.1 * HALF_DAY ? "twelve" : null;
    if (kind !== null) {
      carried += kind === "midnight" ? DAY : HALF_DAY;
      if (met[kind].count === 0) met[kind].row = i;
      met[kind].count += 1;
    }
    previous = raw;
    ticks[i] = raw + carried;
  }
  const found: LogFinding[] = [];
  if (met.midnight.count > 0)
    found.push({ code: "midnight", count: met.midnight.count, line: placeOf(met.midnight.row).line });
  if (met.twelve.count > 0)
    found.push({ code: "twelve-hours", count: met.twelve.count, line: placeOf(met.twelve.row).line });
  return found;
}

/**
 * Carries local times on over the end of summer time, in place: a fall of one hour, give or take the usual distance of
 * readings, is the clock being set back. Only for stamps whose zone nobody told.
 */
export function unwrapSummerTime(ticks: Float64Array, placeOf: PlaceOf): LogFinding[] {
  const found: LogFinding[] = [];
  const step = medianStep(ticks);
  let carried = 0;
  let previous = ticks[0] ?? 0;
  for (let i = 1; i < ticks.length; i += 1) {
    const raw = ticks[i]!;
    const move = raw - previous;
    if (Math.abs(move + HOUR - step) <= Math.max(2 * step, 2e9) && step < HOUR / 4 && found.length === 0) {
      carried += HOUR;
      found.push({ code: "clock-set-back", line: placeOf(i).line });
    }
    previous = raw;
    ticks[i] = raw + carried;
  }
  return found;
}

function medianStep(ticks: Float64Array): number {
  const count = Math.min(2000, ticks.length - 1);
  const steps = Array.from({ length: Math.max(0, count) }, (_, i) => ticks[i + 1]! - ticks[i]!).sort((a, b) => a - b);
  return Math.max(0, steps[Math.floor(steps.length / 2)] ?? 0);
}
