import type { Assumption } from "../notes.js";
import { medianIntervalS } from "../series/working-series.js";
import type { LoadPatterns } from "./load-patterns.js";
import { firstAtOrAfter, type OnTime } from "./switching-template.js";

/** A meter has moved by this share of an on-time after its beginning, or by this time, s. Chosen. */
const MOVED_SHARE = 0.25;
const MOVED_S = 1;
/** Readings further apart than so many usual intervals, and than this, s, leave a gap between them. */
const MISSED_INTERVALS = 5;
const LEAST_GAP_S = 0.5;

/**
 * Leaves out, and says so, the on-times in which nobody read the meter, as where the hand on the switch hid its needle.
 *
 * What is left of such a switching is the meter's way back after it. A quick meter is back before anyone looks, and a load
 * that answers would pass for a dead one; from a slow one the depth follows only with its lag, which is not known well enough.
 */
export function withoutUnread({ patterns, ignored }: LoadPatterns, timesS: Float64Array): LoadPatterns {
  const read = new Map<string | null, readonly OnTime[]>();
  const unread: Assumption[] = [];
  const intervalS = medianIntervalS(timesS);
  for (const [load, onTimes] of patterns) {
    const kept = onTimes.filter((onTime) => !isUnread(onTime, timesS, intervalS));
    if (kept.length > 0) read.set(load, kept);
    for (const { onsetS, releaseS } of onTimes.filter((onTime) => !kept.includes(onTime))) {
      for (const timeS of [onsetS, releaseS])
        unread.push({ code: "mark-ignored", timeS, load, why: "no-readings-near" });
    }
  }
  return { patterns: read, ignored: [...ignored, ...unread] };
}

function isUnread({ onsetS, releaseS }: OnTime, timesS: Float64Array, intervalS: number): boolean {
  const movedS = onsetS + Math.min(MOVED_SHARE * (releaseS - onsetS), MOVED_S);
  const next = firstAtOrAfter(timesS, movedS);
  if (next === 0 || next === timesS.length || timesS[next] < releaseS) return false;
  return timesS[next] - timesS[next - 1] > Math.max(MISSED_INTERVALS * intervalS, LEAST_GAP_S);
}
