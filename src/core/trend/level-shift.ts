import { winsorize } from "./baseline.js";
import { varianceOfMean } from "./flight-correlation.js";

/** How strongly one look at a series speaks for a fall of the level, and from which flight on. */
export interface ShiftLook {
  /** Fall of the newest flights below the earlier ones, in its own standard deviations. */
  readonly t: number;
  /** Index of the first flight of the new level. */
  readonly firstFlight: number;
}

/** A fall this many flights old is left to the next baseline. */
const NEWEST_FLIGHTS = 5;
const EARLIER_FLIGHTS = 40;
const FEWEST_EARLIER = 10;
const SHIFT_WINSOR = 3;

/**
 * Looks for a fall to a lower level after each flight from `firstLook` on: the mean of the newest two to five flights
 * against that of up to forty before them, the strongest split counts.
 *
 * `z` is the deviation from the baseline in scatters; means of winsorised values, since medians of so few flights found
 * only 20 to 60 % of swaps. `phi` is the lag-one correlation from flight to flight.
 */
export function shiftLooks(z: ArrayLike<number>, phi: number, firstLook: number): ShiftLook[] {
  const sums = new Float64Array(z.length + 1);
  for (let index = 0; index < z.length; index++) sums[index + 1] = sums[index] + winsorize(z[index], SHIFT_WINSOR);
  const looks: ShiftLook[] = [];
  for (let end = firstLook + 1; end <= z.length; end++) looks.push(strongestSplit(sums, phi, end));
  return looks;
}

function strongestSplit(sums: Float64Array, phi: number, end: number): ShiftLook {
  let strongest: ShiftLook = { t: 0, firstFlight: end };
  for (let newest = 2; newest <= NEWEST_FLIGHTS && end - newest >= FEWEST_EARLIER; newest++) {
    const split = end - newest;
    const start = Math.max(0, split - EARLIER_FLIGHTS);
    const fall = (sums[split] - sums[start]) / (split - start) - (sums[end] - sums[split]) / newest;
    const t = fall / Math.sqrt(varianceOfMean(split - start, phi) + varianceOfMean(newest, phi));
    if (t > strongest.t) strongest = { t, firstFlight: split };
  }
  return strongest;
}
