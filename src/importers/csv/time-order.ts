import { InputError } from "../input-error.js";
import type { LogFinding } from "./log-notes.js";
import type { PlaceOf } from "./series-set.js";

/** Share of rows that may step back before the log is refused rather than sorted. */
const RARE_SHARE = 0.05;

/** From this share of rows on that step back the whole log runs backwards. */
const BACKWARDS_SHARE = 0.95;

/** Typical distance of neighbouring readings, s: the median of the steps forward, from up to 4,000 of them. */
function typicalStep(timesS: Float64Array): number {
  const stride = Math.max(1, Math.floor(timesS.length / 4000));
  const steps: number[] = [];
  for (let i = stride; i < timesS.length; i += stride) {
    const step = timesS[i]! - timesS[i - 1]!;
    if (step > 0) steps.push(step);
  }
  steps.sort((a, b) => a - b);
  return steps[Math.floor(steps.length / 2)] ?? 0;
}

/**
 * Puts readings in order of time, in place, where few rows step back by little.
 *
 * @throws {InputError} where many rows step back or any by much: then the clock was set or two recordings are joined.
 */
export function putInOrder(timesS: Float64Array, series: readonly Float64Array[], placeOf: PlaceOf): LogFinding[] {
  let backCount = 0;
  let firstRow = 0;
  let largestS = 0;
  let largestRow = 0;
  for (let i = 1; i < timesS.length; i += 1) {
    const backS = timesS[i - 1]! - timesS[i]!;
    if (backS > 0) {
      if (backCount === 0) firstRow = i;
      backCount += 1;
      if (backS > largestS) {
        largestS = backS;
        largestRow = i;
      }
    }
  }
  if (backCount === 0) return [];
  if (backCount > BACKWARDS_SHARE * (timesS.length - 1)) {
    throw new InputError({
      ...placeOf(firstRow),
      problem: "the times count down from here on, from the first reading to the last",
      remedy: "turn the rows round so that the oldest comes first, or name another --time-column",
    });
  }
  const allowedS = Math.max(1, 2 * typicalStep(timesS));
  if (backCount > RARE_SHARE * timesS.length || largestS > allowedS) {
    const row = largestS > allowedS ? largestRow : firstRow;
    refuseRepeatedRows(row, timesS, series, placeOf);
    const restarts = backCount <= RARE_SHARE * timesS.length && timesS[largestRow]! <= timesS[0]! + allowedS;
    throw new InputError({
      ...placeOf(row),
      problem: restarts
        ? "the times start anew here, so two recordings seem to be joined"
        : `the time goes back by ${Number(largestS.toPrecision(3))} s (${backCount} of ${timesS.length} rows go back)`,
      remedy: restarts
        ? "part the file at this line and analyze each recording by itself"
        : "part the file where its clock was set, or name another --time-column",
    });
  }
  sortByTime(timesS, series);
  return [{ code: "sorted", rowCount: backCount, largestS, line: placeOf(firstRow).line }];
}

/** So many rows, one after the other, are not alike by chance. */
const REPEATED_ROWS = 5;

/** @throws {InputError} where the rows from this one on are earlier ones once more, as a logger writes its memory twice. */
function refuseRepeatedRows(
  row: number,
  timesS: Float64Array,
  series: readonly Float64Array[],
  placeOf: PlaceOf,
): void {
  const earlier = timesS.indexOf(timesS[row]!);
  let count = 0;
  const alike = (values: Float64Array): boolean => Object.is(values[earlier + count], values[row + count]);
  while (earlier + count < row && row + count < timesS.length && alike(timesS) && series.every(alike)) count += 1;
  if (count < REPEATED_ROWS) return;
  throw new InputError({
    ...placeOf(row),
    problem: `the ${count} rows from here on repeat those from line ${placeOf(earlier).line} on, with the same times and readings`,
    remedy: "delete such repeated rows, or export the log anew",
  });
}

/** Insertion sort: stable, and quick where few rows are out of place by little. */
function sortByTime(timesS: Float64Array, series: readonly Float64Array[]): void {
  for (let i = 1; i < timesS.length; i += 1) {
    const time = timesS[i]!;
    if (time >= timesS[i - 1]!) continue;
    const kept = series.map((values) => values[i]!);
    let j = i;
    for (; j > 0 && timesS[j - 1]! > time; j -= 1) {
      timesS[j] = timesS[j - 1]!;
      for (const values of series) values[j] = values[j - 1]!;
    }
    timesS[j] = time;
    series.forEach((values, k) => {
      values[j] = kept[k]!;
    });
  }
}
