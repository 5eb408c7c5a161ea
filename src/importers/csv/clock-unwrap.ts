import { isoDate } from "./calendar.js";
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
      fall > HALF_DAY ? "midnight" : twelve && fall > 0.9 * HALF_DAY && fall < 1.1 * HALF_DAY ? "twelve" : null;
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
 * Carries local times on over the ends and beginnings of summer time, in place, for stamps whose zone nobody told;
 * `originS` is the local time of tick zero.
 *
 * A fall of one hour, give or take the usual distance of readings, is the clock being set back. A jump of one hour from
 * one full hour to the next, early on a Sunday of spring or autumn while the readings go on evenly, is the clock being
 * set forward.
 */
export function unwrapSummerTime(ticks: Float64Array, originS: number, placeOf: PlaceOf): LogFinding[] {
  const found: LogFinding[] = [];
  const step = medianStep(ticks);
  if (step >= HOUR / 4) return found;
  const slack = Math.max(2 * step, 2e9);
  let carried = 0;
  let previous = ticks[0] ?? 0;
  for (let i = 1; i < ticks.length; i += 1) {
    const raw = ticks[i]!;
    const move = raw - previous - step;
    if (Math.abs(move + HOUR) <= slack && !found.some(({ code }) => code === "clock-set-back")) {
      carried += HOUR;
      found.push({ code: "clock-set-back", line: placeOf(i).line });
    } else if (Math.abs(move - HOUR) <= slack / 2 && beginsSummerTime(originS, previous, raw, step)) {
      carried -= HOUR;
      found.push({ code: "clock-set-forward", line: placeOf(i).line });
    }
    previous = raw;
    ticks[i] = raw + carried;
  }
  return found;
}

/** Whether the local clock went from just before one full hour to just after the next, on a night when zones change. */
function beginsSummerTime(originS: number, before: number, after: number, step: number): boolean {
  const hourS = 3600;
  const beforeS = originS + before / 1e9;
  const afterS = originS + after / 1e9;
  const fullHourS = Math.floor(afterS / hourS) * hourS;
  const skipped = afterS - fullHourS <= (1.5 * step) / 1e9 && beforeS < fullHourS - hourS;
  const day = Math.floor(beforeS / 86_400);
  // 1970-01-01 was a Thursday.
  const sunday = (((day + 4) % 7) + 7) % 7 === 0;
  const hour = (fullHourS / hourS) % 24;
  const month = Number(isoDate(day).slice(5, 7));
  return skipped && sunday && hour >= 1 && hour <= 3 && [3, 4, 9, 10, 11].includes(month);
}

/** From the first 2,000 steps, ticks. */
function medianStep(ticks: Float64Array): number {
  const count = Math.min(2000, ticks.length - 1);
  const steps = Array.from({ length: Math.max(0, count) }, (_, i) => ticks[i + 1]! - ticks[i]!).sort((a, b) => a - b);
  return Math.max(0, steps[Math.floor(steps.length / 2)] ?? 0);
}
