import type { NeedleFit } from "./needle-fit.js";
import type { PolarGrid } from "./needle-patch.js";

/** Frames within so many seconds on either side are a frame's neighbours. */
const NEAR_S = 0.11;
/** Fewer frames tell nothing. */
const LEAST_FRAMES = 60;
/** No more of a shift is taken for the view's error: of a needle that shakes by itself the clip would tell any share. */
const MOST_SHARE = 0.3;
/** A share within so many of its standard uncertainties is none. */
const SURE = 2;
/** Neighbouring second differences are alike: so many count as one. */
const ALIKE = 2;
/** Beyond so many robust standard deviations a movement of the needle is its own, and a shift is something on the needle. */
const USUAL_TURN = 3;
const USUAL_SHIFT = 6;

interface Frame {
  readonly step: number;
  /** The turn that the fit would have beside its own if a shift were free, less its neighbours' mean; steps. */
  readonly quick: number;
}

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
  const frames = fits.map((fit, at): Frame | null =>
    fit === null || !Number.isFinite(quick[at]!) ? null : { step: fit.step, quick: quick[at]! },
  );
  const share = believedShare(frames);
  if (share === 0) return [...fits];
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

function believedShare(frames: readonly (Frame | null)[]): number {
  const bends: { turn: number; aside: number }[] = [];
  for (let at = 2; at < frames.length; at++) {
    const [first, second, third] = frames.slice(at - 2, at + 1);
    if (first == null || second == null || third == null) continue;
    bends.push({
      turn: first.step - 2 * second.step + third.step,
      aside: first.quick - 2 * second.quick + third.quick,
    });
  }
  if (bends.length < LEAST_FRAMES) return 0;
  const limit = USUAL_TURN * robustDeviation(bends.map(({ turn }) => turn));
  let [products, squares, turns, count] = [0, 0, 0, 0];
  for (const { turn, aside } of bends) {
    const weight = 1 / (1 + (turn / limit) ** 2);
    products -= weight * turn * aside;
    squares += weight * aside * aside;
    turns += weight * turn * turn;
    count += weight;
  }
  if (!(squares > 0)) return 0;
  const share = products / squares;
  const u = Math.sqrt((ALIKE * Math.max(0, turns / squares - share * share)) / count);
  return share > SURE * u ? Math.min(MOST_SHARE, share) : 0;
}

function robustDeviation(values: readonly number[]): number {
  return 1.48 * (Float64Array.from(values, Math.abs).sort()[values.length >> 1] ?? 0);
}
