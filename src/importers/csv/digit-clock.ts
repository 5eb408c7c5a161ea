import { InputError } from "../input-error.js";
import type { ColumnSurvey } from "./column-survey.js";
import type { PlaceOf } from "./series-set.js";
import { readDigitTime } from "./timestamp.js";

/** What a clock in digits, `hhmmss`, skips at a full minute besides its usual step: from 59 to 100. */
const MINUTE_SKIP = 40;
/** A clock in digits has at least five of them. */
const LEAST_DIGITS = 10_000;

/**
 * Whether numbers are a clock in digits: then they skip at every full minute, and seconds that are counted on do not.
 */
export function isDigitClock({ unit, cells, numbers }: ColumnSurvey): boolean {
  if (unit !== null || numbers.length !== cells.length || cells.length < 3) return false;
  const clock = cells.flatMap((cell) => {
    const time = /^\d{5,6}([.,]\d+)?$/.test(cell) ? readDigitTime(cell) : null;
    return time === null ? [] : [time.second + time.nanosecond / 1e9];
  });
  if (clock.length < cells.length) return false;
  const steps = (values: readonly number[]): number[] => values.slice(1).map((value, i) => value - values[i]!);
  const [asNumbers, asClock] = [steps(numbers), steps(clock)];
  return asNumbers[0]! < MINUTE_SKIP && Math.max(...asNumbers) - Math.max(...asClock) > MINUTE_SKIP - 1;
}

/** @throws {InputError} where counted seconds skip as a clock does, behind the rows that the log was planned by. */
export function refuseDigitClock(timesS: Float64Array, placeOf: PlaceOf): void {
  const row = digitClockSkip(timesS);
  if (row === null) return;
  throw new InputError({
    ...placeOf(row),
    problem: `the time skips from ${timesS[row - 1]} to ${timesS[row]}, as a clock written in digits (hhmmss) does`,
    remedy: "say --time-format clock, or --time-format elapsed if these are seconds",
  });
}

/** The first row that skips a minute's end, where no number ends in 60 to 99; null where there is none. */
function digitClockSkip(timesS: Float64Array): number | null {
  if (timesS[0]! < LEAST_DIGITS) return null;
  let found: number | null = null;
  for (let i = 0; i < timesS.length; i += 1) {
    if (timesS[i]! % 100 >= 60) return null;
    const stepS = i === 0 ? 0 : timesS[i]! - timesS[i - 1]!;
    if (stepS > MINUTE_SKIP && stepS < MINUTE_SKIP + 2) found ??= i;
  }
  return found;
}
