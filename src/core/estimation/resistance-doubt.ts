import type { BusProfile } from "../profile.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import { type EstimatedDip, lowestProfileResistanceOhm, type SourceAnswer } from "./source-from-recording.js";

/** A source resistance of this recording that what the profile says of battery and path cannot be. */
export interface ResistanceDoubt {
  readonly foundOhm: number;
  readonly uFoundOhm: number;
  /** By the profile: of battery and path together, or the least that the one of them allows. */
  readonly knownOhm: number;
  readonly uKnownOhm: number;
}

/** So many standard uncertainties apart, and by such a factor, chance is no reason. */
const APART = 3;
const FACTOR = 1.5;

/** The doubt that the profile casts on the resistance found; null where there is none. */
export function resistanceDoubt(source: SourceAnswer, profile: BusProfile | null): ResistanceDoubt | null {
  if (!source.known || source.route === "known-resistance") return null;
  const parts = [profile?.battery?.resistanceOhm, profile?.pathResistanceOhm].flatMap((part) => part ?? []);
  if (parts.length === 0) return null;
  const knownOhm = parts.reduce((sum, { value }) => sum + value, 0);
  const uKnownOhm = rootSumSquares(...parts.map(({ u }) => u));
  const { resistanceOhm: foundOhm, uOhm: uFoundOhm } = source;
  const reach = APART * rootSumSquares(uFoundOhm, uKnownOhm);
  // One part alone says nothing of how much more there may be.
  const above = parts.length === 2 && foundOhm > FACTOR * knownOhm && foundOhm - knownOhm > reach;
  const below = knownOhm - foundOhm > reach && (foundOhm < knownOhm / FACTOR || parts.length === 1);
  return above || below ? { foundOhm, uFoundOhm, knownOhm, uKnownOhm } : null;
}

/**
 * Lowest source resistance that a missing dip may be held against, ohms; null where nothing tells one.
 *
 * A clamp on a wrong range gives a resistance ten times too large, and a dip that nobody could miss: so where the
 * profile doubts what was found, its own resistance counts if it is lower, and where a measured current lies below what
 * its load may draw, the dip with the highest current that it may. What the profile tells is a resistance of the stated time, a dip
 * begins with the immediate one.
 */
export function lowestResistanceOhm(
  source: SourceAnswer,
  profile: BusProfile | null,
  dips: readonly EstimatedDip[],
): number | null {
  const toldOhm = lowestProfileResistanceOhm(profile);
  const byProfile = toldOhm === null ? null : toldOhm * IMMEDIATE;
  if (!source.known) return byProfile;
  const doubted = resistanceDoubt(source, profile) === null ? null : byProfile;
  const byCurrents = source.route === "measured-current" ? dips.flatMap((dip) => byHighestCurrent(dip, profile)) : [];
  const isTold = source.route === "known-resistance";
  const lowestOhm = Math.min(
    (source.resistanceOhm - 2 * source.uOhm) * (isTold ? IMMEDIATE : 1),
    doubted ?? Number.POSITIVE_INFINITY,
    ...byCurrents,
  );
  return Math.max(lowestOhm, 0);
}

/**
 * Least share of the resistance one second after a step that shows at once. Chosen: batteries simulated with the polarisation of
 * lead-acid ones gave way by 1.2 to 3.7 % in that second (`npm run bench:currents`).
 */
const IMMEDIATE = 0.96;

function byHighestCurrent({ id, responded, depth, measuredA }: EstimatedDip, profile: BusProfile | null): number[] {
  const acceptA = profile?.loads.find((load) => load.id === id)?.acceptA;
  if (!responded || measuredA === null || acceptA === undefined) return [];
  const [lowestA, highestA] = acceptA;
  return measuredA.value + 2 * measuredA.u < lowestA ? [(depth.value - 2 * depth.u) / highestA] : [];
}
