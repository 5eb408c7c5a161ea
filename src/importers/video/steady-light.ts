import { type ClueOfTurn, quickShare, robustDeviation } from "./believed-share.js";
import type { NeedleFit } from "./needle-fit.js";

/** Light on a needle's dial slopes as it does in the frames within so many seconds on either side. */
const STEADY_S = 0.25;
/** Fewer frames than these do not tell what is usual. */
const LEAST_NEAR = 5;
/** Steady light is expected of a clip: all of the change is believed, give or take this, until the clip tells otherwise. */
const USUAL_DOUBT = 0.5;
/** A turn that steady light would change by more than so many robust standard deviations is of a frame whose light changed. */
const USUAL_CHANGE = 8;

type Slopes = Float64Array | null;

/**
 * Fits again with the slope of the light across each band as it is in the frames about, not free in each frame.
 *
 * Such a slope looks much as a turn of the needle does, and what a codec leaves of noise passes for one or the other. Light
 * changes slowly, but not always: a reflection moves as the hand shakes. So the share of the change is believed that leaves
 * the least second differences of the turn. A frame whose light differs much from that about it keeps its own.
 *
 * `refit` fits all frames, with slopes that are known or, where null, free.
 */
export function inSteadyLight(
  timesS: readonly number[],
  free: readonly (NeedleFit | null)[],
  refit: (slopes: readonly Slopes[]) => readonly (NeedleFit | null)[],
): (NeedleFit | null)[] {
  const steady = slopesAbout(timesS, free);
  const held = refit(steady);
  const clues = free.map((fit, at): ClueOfTurn | null => {
    const other = held[at] ?? null;
    return fit === null || other === null || steady[at] === null
      ? null
      : { step: fit.step, quick: other.step - fit.step };
  });
  const told = quickShare(clues);
  if (told === null) return [...free];
  const [expected, own] = [USUAL_DOUBT ** 2, told.u ** 2];
  const share = Math.max(0, Math.min(1, (own + expected * told.share) / (own + expected)));
  const changes = clues.map((clue, at) => (clue === null ? Number.NaN : Math.abs(clue.quick) / free[at]!.formalU));
  const limit = USUAL_CHANGE * robustDeviation(changes.filter(Number.isFinite));
  const fits = refit(
    free.map((fit, at) =>
      fit !== null && changes[at]! <= limit
        ? fit.lightSlopes.map((slope, band) => slope + share * (steady[at]![band]! - slope))
        : null,
    ),
  );
  return free.map((fit, at) => (changes[at]! <= limit ? (fits[at] ?? fit) : fit));
}

/** Medians of the bands' slopes in the frames about each; null where there are too few. */
function slopesAbout(timesS: readonly number[], fits: readonly (NeedleFit | null)[]): Slopes[] {
  let [from, to] = [0, 0];
  return fits.map((fit, at) => {
    while (timesS[from]! < timesS[at]! - STEADY_S) from++;
    while (to < timesS.length && timesS[to]! <= timesS[at]! + STEADY_S) to++;
    const near = fits.slice(from, to).filter((other) => other !== null);
    if (fit === null || near.length < LEAST_NEAR) return null;
    return fit.lightSlopes.map(
      (_, band) => Float64Array.from(near, ({ lightSlopes }) => lightSlopes[band]!).sort()[near.length >> 1]!,
    );
  });
}
