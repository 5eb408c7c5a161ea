import { type ClueOfTurn, quickShare, robustDeviation } from "./believed-share.js";
import type { NeedleFit } from "./needle-fit.js";
import type { PolarGrid } from "./needle-patch.js";

/** Frames within so many seconds on either side are a frame's neighbours. */
const NEAR_S = 0.11;
/** No more of a shift is taken for the view's error: of a needle that shakes by itself the clip would tell any share. */
const MOST_SHARE = 0.3;
/** A share within so many of its standard uncertainties is none. */
const SURE = 2;
/** Beyond so many robust standard deviations a shift is something on the needle. */
const USUAL_SHIFT = 6;

/**
 * Takes off what a shift of the whole needle, other than in the frames about, made of its turn.
 *
 * A codec moves blocks of the picture, and with them print or needle, by parts of a pixel from frame to frame. What the
 * needle is moved aside by passes for a turn in part. The shift that a fit shows where it is free is rough, so that only a
 * share of it is believed: the one that leaves the least second differences of the turn, in which this error stands out and
 * the bus, through a slow meter, hardly. What lasts longer than a tenth of a second is left to parallax and eye.
 */
export function withoutQuickAside(
  timesS: readonly number[],
  fits: readonly (NeedleFit | null)[],
  grid: PolarGrid,
  perTurnPx: number,
): (NeedleFit | null)[] {
  const asides = fits.map((fit) => (fit === null ? Number.NaN : (fit.lateral - fit.freeLateral) / perTurnPx));
  const quick = beyondNeighbours(timesS, asides);
  const frames = fits.map((fit, at): ClueOfTurn | null =>
    fit === null || !Number.isFinite(quick[at]!) ? null : { step: fit.step, quick: quick[at]! },
  );
  const told = quickShare(frames);
  if (told === null || !(told.share > SURE * told.u)) return [...fits];
  const share = Math.min(MOST_SHARE, told.share);
  return fits.map((fit, at) => {
    const frame = frames[at]!;
    if (fit === null || frame === null) return fit;
    const turn = share * frame.quick;
    return {
      ...fit,
      step: fit.step + turn,
      lateral: fit.lateral - turn * perTurnPx,
      bandShifts: fit.bandShifts.map((shift, band) => shift - turn * (1 - perTurnPx / grid.bandRadiusPx[band]!)),
    };
  });
}

/** How far each lies beyond the mean of itself and its neighbours, NaN where unknown; what lies very far counts for less. */
function beyondNeighbours(timesS: readonly number[], values: readonly number[]): number[] {
  let [from, to] = [0, 0];
  const beyond = values.map((value, at) => {
    while (timesS[from]! < timesS[at]! - NEAR_S) from++;
    while (to < timesS.length && timesS[to]! <= timesS[at]! + NEAR_S) to++;
    const near = values.slice(from, to).filter(Number.isFinite);
    return value - near.reduce((sum, one) => sum + one, 0) / near.length;
  });
  const limit = USUAL_SHIFT * robustDeviation(beyond.filter(Number.isFinite));
  return beyond.map((value) => Math.max(-limit, Math.min(limit, value)));
}
