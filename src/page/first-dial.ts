import { InputError, readProfile } from "../importers/browser.js";
import type { DialPointing } from "./dial-pointing.js";

/** What was found; where the scale was not, two marks to be moved onto the scale: zero at the left, full scale at the right. */
export function firstDial(
  still: DialPointing["still"],
  pivot: DialPointing["pivot"] | null,
  marks: DialPointing["marks"],
  fullScaleV: number,
): DialPointing {
  if (pivot !== null && marks.length >= 2) return { still, pivot, marks };
  const { width, height } = still;
  const centre = pivot ?? { x: width / 2, y: 0.6 * height };
  const reach = Math.min(width, height) / 4;
  return {
    still,
    pivot: centre,
    marks: [
      { x: Math.max(0, centre.x - reach), y: Math.max(0, centre.y - reach), volts: 0 },
      { x: Math.min(width, centre.x + reach), y: Math.max(0, centre.y - reach), volts: fullScaleV },
    ],
  };
}

/** The meter's full scale as the profile tells it, else that of a usual panel voltmeter of a 28 V bus (common practice, no source). */
export function fullScaleOf(profileText: string | null): number {
  try {
    return (profileText === null ? undefined : readProfile(profileText, "the profile").meter?.fullScaleV) ?? 30;
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return 30;
  }
}
