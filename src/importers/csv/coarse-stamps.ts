import { InputError } from "../input-error.js";
import type { LogFinding } from "./log-notes.js";
import type { PlaceOf } from "./series-set.js";

/** Share of rows with the stamp of the row before, from which the stamps count as coarse. */
const COARSE_SHARE = 0.25;
/** Fewer repeats than this prove nothing. */
const FEWEST = 3;
/** Stamps that tell less than this must be enough to tell the rate, s. */
const LONG_STAMP_S = 10;
/** Of fewer stamps none is known to be full. */
const FEWEST_STAMPS = 3;

/**
 * Spreads readings that share a stamp over the time the stamp stands for, in place; `stampS` is what stamps can tell.
 *
 * A log of ten readings a second with stamps of whole seconds repeats each stamp ten times. Where one even rate agrees
 * with every stamp, it is used; otherwise the readings of each stamp are spread evenly up to the next, and those of a
 * first and last minute, which may not be full, as their neighbours'. Few repeats are left as they are.
 *
 * @throws {InputError} where stamps of minutes are too few to tell how far apart the readings are.
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
  if (sameCount < Math.max(FEWEST, COARSE_SHARE * timesS.length)) {
    return [{ code: "same-times", rowCount: sameCount, line: placeOf(firstRow).line }];
  }
  const stampCount = timesS.length - sameCount;
  if (stampCount < FEWEST_STAMPS && stampS >= LONG_STAMP_S) {
    throw new InputError({
      ...placeOf(firstRow),
      problem: `the stamps tell only ${stampS} s, too little to say how far apart these ${timesS.length} readings are`,
      remedy: "say it with --interval SECONDS, or let the logger write seconds",
    });
  }
  if (stampCount === 1) return [];
  const perStamp = timesS.length / stampCount;
  const rate = evenRate(timesS);
  const even = rate !== null && agrees(timesS, stampS, rate);
  if (even) for (let i = 0; i < timesS.length; i += 1) timesS[i] = rate.startS + i * rate.stepS;
  else spreadWithinStamps(timesS, stampS);
  return [{ code: "spread", stampS, perStamp, even }];
}

interface EvenRate {
  readonly startS: number;
  readonly stepS: number;
}

/** The line through the readings at which the stamp changes; null for fewer than two changes. */
function evenRate(timesS: Float64Array): EvenRate | null {
  let count = 0;
  let [sumI, sumT, sumII, sumIT] = [0, 0, 0, 0];
  const origin = timesS[0]!;
  for (let i = 1; i < timesS.length; i += 1) {
    if (timesS[i] === timesS[i - 1]) continue;
    const t = timesS[i]! - origin;
    count += 1;
    sumI += i;
    sumT += t;
    sumII += i * i;
    sumIT += i * t;
  }
  const spread = count * sumII - sumI * sumI;
  if (count < 2 || spread <= 0) return null;
  const stepS = (count * sumIT - sumI * sumT) / spread;
  // The first reading of a stamp came up to one step after the stamp began.
  return { startS: origin + (sumT - stepS * sumI) / count + stepS / 2, stepS };
}

/** Whether the rate puts every reading into its stamp, give or take half a step. */
function agrees(timesS: Float64Array, stampS: number, rate: EvenRate): boolean {
  if (!(rate.stepS > 0)) return false;
  const slackS = rate.stepS / 2;
  for (let i = 0; i < timesS.length; i += 1) {
    const intoS = rate.startS + i * rate.stepS - timesS[i]!;
    if (intoS < -slackS || intoS > stampS + slackS) return false;
  }
  return true;
}

function spreadWithinStamps(timesS: Float64Array, stampS: number): void {
  const starts = [0];
  for (let i = 1; i < timesS.length; i += 1) if (timesS[i] !== timesS[i - 1]) starts.push(i);
  const stamps = starts.map((start) => timesS[start]!);
  const counts = starts.map((start, k) => (starts[k + 1] ?? timesS.length) - start);
  const lengths = stamps.map((stamp, k) => Math.min((stamps[k + 1] ?? stamp + stampS) - stamp, stampS));
  const last = stamps.length - 1;
  const full = (k: number): number => lengths[k]! / counts[k]!;
  for (const [k, start] of starts.entries()) {
    // The log began somewhere in its first stamp and ended somewhere in its last; a second more or less is let be.
    const beside =
      last < 2 || stampS < LONG_STAMP_S
        ? Number.POSITIVE_INFINITY
        : k === 0
          ? full(1)
          : k === last
            ? full(last - 1)
            : full(k);
    const stepS = Math.min(full(k), beside);
    const lateS = k === 0 ? lengths[0]! - counts[0]! * stepS : 0;
    for (let i = 0; i < counts[k]!; i += 1) timesS[start + i] = stamps[k]! + lateS + i * stepS;
  }
}
