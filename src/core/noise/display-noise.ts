import type { Recording } from "../series/recording.js";
import { readingScatterV } from "../series/working-series.js";
import { normalQuantile } from "../statistics/distribution.js";

/** Stretch within which the level hardly moves, seconds, and fewest readings that say anything of it. */
const STRETCH_S = 2;
const FEWEST = 6;
/** Scatter, in steps, that a level which flickers between two digits never shows; 0.6 of a step is the most it does. */
const MORE_THAN_FLICKER = 1.5;
/** Share of the stretches, those with the most digits, that are left out: a dip's edge may lie in them. */
const LEFT_OUT = 0.2;

/**
 * Noise that the readings surely have before a display rounds them to `stepV`, volts.
 *
 * A level between two digits flickers by half a step however small its noise is; only readings beyond two neighbouring
 * digits tell of noise. Their share is read as if the level lay on a digit, where they are most frequent, so that the
 * answer errs low. 0 where no more than two digits ever show side by side. A log too slow for such stretches tells only of
 * noise well above a step, by the scatter from one reading to the next.
 */
export function displayNoiseV(recording: Recording, stepV: number): number {
  const { timesS, voltagesV } = recording;
  const n = timesS.length;
  const stride = Math.max(1, Math.floor(n / 200_000));
  const shares: number[] = [];
  let digits = new Map<number, number>();
  let count = 0;
  let startS = timesS[0];
  const close = () => {
    if (count >= FEWEST) shares.push(shareBeyondTwo(digits, count));
    digits = new Map();
    count = 0;
  };
  for (let i = 0; i < n; i += stride) {
    if (timesS[i] - startS > STRETCH_S) {
      close();
      startS = timesS[i];
    }
    const digit = Math.round(voltagesV[i] / stepV);
    digits.set(digit, (digits.get(digit) ?? 0) + 1);
    count += 1;
  }
  close();
  if (shares.length === 0) {
    const scatterV = readingScatterV(voltagesV);
    return scatterV > MORE_THAN_FLICKER * stepV ? scatterV : 0;
  }
  shares.sort((a, b) => a - b);
  const kept = shares.slice(0, Math.max(1, Math.floor((1 - LEFT_OUT) * shares.length)));
  const share = kept.reduce((sum, one) => sum + one, 0) / kept.length;
  return (0.5 * stepV) / normalQuantile(1 - Math.min(share, 0.45));
}

/** Share of the readings outside the two neighbouring digits that hold the most. */
function shareBeyondTwo(digits: ReadonlyMap<number, number>, count: number): number {
  let most = 0;
  for (const [digit, own] of digits) most = Math.max(most, own + (digits.get(digit + 1) ?? 0));
  return (count - most) / count;
}
