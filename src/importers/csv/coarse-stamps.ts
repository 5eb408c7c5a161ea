import type { LogFinding } from "./log-notes.js";
import type { PlaceOf } from "./series-set.js";

/** Share of rows with the stamp of the row before, from which the stamps count as coarse. */
const COARSE_SHARE = 0.25;

/**
 * Spreads readings that share a stamp over the time the stamp stands for, in place.
 *
 * A log of ten readings a second with stamps of whole seconds repeats each stamp ten times. Where one even rate agrees
 * with every stamp, it is used; otherwise the readings of each stamp are spread evenly up to the next. Few repeats are
 * left as they are.
 */
export function spreadCoarseStamps(timesS: Float64Array, stampS: number, placeOf: PlaceOf): LogFinding[] {
  let sameCount = 0;
  let firstRow = 0;
  for (let i = 1; i < timesS.length; i += 1) {
    if (timesS[i] === timesS[i - 1]) {
      if (sameCount === 0) firstRow = i;
      sameCount += 1;
    }
  }
  if (sameCount === 0) return [];
  if (sameCount < COARSE_SHARE * timesS.length) {
    return [{ code: "same-times", rowCount: sameCount, line: placeOf(firstRow).line }];
  }
  const perStamp = timesS.length / (timesS.length - sameCount);
  const even = spreadByRate(timesS, stampS) || false;
  if (!even) spreadWithinStamps(timesS, stampS);
  return [{ code: "spread", stampS, perStamp, even }];
}

/** Tries one even rate for all readings: a line through the stamps that keeps each reading within its stamp. */
function spreadByRate(timesS: Float64Array, stampS: number): boolean {
  const count = timesS.length;
  const start = timesS[0]!;
  // The line must pass each reading no earlier than its stamp and earlier than the stamp's end.
  let lowStep = 0;
  let highStep = Number.POSITIVE_INFINITY;
  let firstEnd = 1;
  while (firstEnd < count && timesS[firstEnd] === start) firstEnd += 1;
  if (firstEnd === count) return false;
  // Anchored where the second stamp begins: that reading came right after the tick.
  const anchorTime = timesS[firstEnd]!;
  for (let i = 0; i < count; i += 1) {
    const lag = i - firstEnd;
    if (lag === 0) continue;
    const low = (timesS[i]! - anchorTime - (lag > 0 ? stampS : 0)) / lag;
    const high = (timesS[i]! + stampS - anchorTime) / lag;
    const [a, b] = lag > 0 ? [low, high] : [high, (timesS[i]! - stampS - anchorTime) / lag];
    lowStep = Math.max(lowStep, a);
    highStep = Math.min(highStep, b);
    if (lowStep > highStep) return false;
  }
  const step = Number.isFinite(highStep) ? (lowStep + highStep) / 2 : lowStep;
  if (!(step > 0)) return false;
  const offset = anchorTime - firstEnd * step;
  for (let i = 0; i < count; i += 1) timesS[i] = offset + i * step;
  return true;
}

function spreadWithinStamps(timesS: Float64Array, stampS: number): void {
  const count = timesS.length;
  for (let start = 0; start < count; ) {
    let end = start + 1;
    while (end < count && timesS[end] === timesS[start]) end += 1;
    const next = end < count ? timesS[end]! : timesS[start]! + stampS;
    const stepS = Math.min(next - timesS[start]!, stampS) / (end - start);
    const stamp = timesS[start]!;
    for (let i = start; i < end; i += 1) timesS[i] = stamp + (i - start) * stepS;
    start = end;
  }
}
