import type { Warning } from "../notes.js";
import { power } from "../statistics/portable-power.js";
import { keepReadings } from "./kept-readings.js";
import type { Recording } from "./recording.js";

/** A recording without the stretches in which a display or logger repeated its last reading. */
export interface WithoutHeld {
  readonly recording: Recording;
  /** What was left out; null where nothing was. */
  readonly held: { readonly stretchCount: number; readonly longestS: number; readonly totalS: number } | null;
}

/** Shortest stretch of equal readings that is looked at. */
const SHORTEST = 5;
/** Neighbouring readings on either side that tell how often two in a row are equal by chance, and the fewest of them. */
const BESIDE = 30;
const FEWEST_BESIDE = 10;
/** From this share of equal neighbours on a coarse display alone makes long stretches. */
const COARSE_SHARE = 0.2;
/** Expected number of such stretches by chance in the whole recording up to which one counts as held. */
const BY_CHANCE = 1e-6;

/**
 * Leaves out all but the first of the readings in each stretch that is exactly constant although the readings beside it
 * scatter over many steps of the display.
 *
 * Such readings are copies of one: counted as many they make a dip of nothing, or hide one. A stretch of `L` is held where
 * `n p^(L-1)` is below a millionth, `p` the share of equal neighbours beside it. At an end of the meter's range, `endV`,
 * readings stand still for another reason.
 */
export function withoutHeld(recording: Recording, endV: number | null): WithoutHeld {
  const { timesS, voltagesV } = recording;
  const runs = longRuns(voltagesV).filter((run) => voltagesV[run.from] !== endV && isHeld(voltagesV, run));
  if (runs.length === 0) return { recording, held: null };
  const copies = runs.reduce((sum, { from, to }) => sum + to - from - 1, 0);
  const kept = new Int32Array(voltagesV.length - copies);
  let next = 0;
  let at = 0;
  for (const { from, to } of runs) {
    while (at <= from) kept[next++] = at++;
    at = to;
  }
  while (at < voltagesV.length) kept[next++] = at++;
  const lengthsS = runs.map(({ from, to }) => timesS[to - 1] - timesS[from]);
  return {
    recording: keepReadings(recording, kept),
    held: {
      stretchCount: runs.length,
      longestS: Math.max(...lengthsS),
      totalS: lengthsS.reduce((sum, lengthS) => sum + lengthS, 0),
    },
  };
}

/** The warning for what was left out. */
export function heldWarning(held: WithoutHeld["held"]): readonly Warning[] {
  return held === null ? [] : [{ code: "readings-held", ...held }];
}

/** First and one past the last index of a stretch of equal readings. */
interface Run {
  readonly from: number;
  readonly to: number;
}

function longRuns(values: Float64Array): Run[] {
  const runs: Run[] = [];
  let from = 0;
  for (let i = 1; i <= values.length; i++) {
    if (i < values.length && values[i] === values[from]) continue;
    if (i - from >= SHORTEST) runs.push({ from, to: i });
    from = i;
  }
  return runs;
}

function isHeld(values: Float64Array, { from, to }: Run): boolean {
  let equal = 0;
  let pairs = 0;
  const count = (first: number, last: number) => {
    for (let i = Math.max(first, 1); i <= Math.min(last, values.length - 1); i++) {
      pairs += 1;
      if (values[i] === values[i - 1]) equal += 1;
    }
  };
  count(from - BESIDE, from - 1);
  count(to + 1, to + BESIDE);
  if (pairs < FEWEST_BESIDE) return false;
  const share = (equal + 1) / (pairs + 2);
  return share <= COARSE_SHARE && values.length * power(share, to - from - 1) < BY_CHANCE;
}
