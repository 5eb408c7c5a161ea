import type { LogFinding } from "./log-notes.js";
import type { SeriesSet } from "./series-set.js";

/** Steps of a file that may go the other way, as where a clock was set. */
const STRAY_SHARE = 0.02;
/** A clock of day that is read backwards rises by almost a day at midnight; in ticks of a nanosecond. */
const HALF_DAY = 43_200e9;

/**
 * Turns round the rows of each file that stand newest first, in place.
 *
 * Only for times that are moments: elapsed times that fall may count down.
 */
export function turnNewestFirst(set: SeriesSet, series: readonly Float64Array[]): LogFinding[] {
  const turned = set.files.filter(({ startRow, endRow }) => fallsAllAlong(series[0]!.subarray(startRow, endRow)));
  for (const file of turned) {
    file.newestFirst = true;
    for (const values of series) values.subarray(file.startRow, file.endRow).reverse();
  }
  return turned.map(({ file }) => ({ code: "newest-first", file: set.files.length > 1 ? file : null }));
}

function fallsAllAlong(times: Float64Array): boolean {
  let [falls, rises] = [0, 0];
  for (let i = 1; i < times.length; i += 1) {
    if (times[i]! < times[i - 1]!) falls += 1;
    else if (times[i]! > times[i - 1]! && times[i]! - times[i - 1]! < HALF_DAY) rises += 1;
  }
  return falls >= 2 && rises <= STRAY_SHARE * falls;
}
