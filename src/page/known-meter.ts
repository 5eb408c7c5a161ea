import { InputError, readProfile } from "../importers/browser.js";
import type { DialHints } from "../importers/video/needle-reading.js";

/** What the profile says of the meter and the battery behind it, which helps to find the scale. */
export type KnownMeter = Pick<DialHints, "meter" | "battery">;

/** Nothing where there is no profile yet that can be read. */
export function knownMeter(profileText: string | null): KnownMeter {
  if (profileText === null) return {};
  try {
    const { meter, battery } = readProfile(profileText, "the profile");
    return { ...(meter === undefined ? {} : { meter }), ...(battery === undefined ? {} : { battery }) };
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return {};
  }
}
