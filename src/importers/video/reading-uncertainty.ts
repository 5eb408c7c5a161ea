import type { NeedleFit } from "./needle-fit.js";
import type { Registration } from "./registration.js";

/** Registration and optics err slowly by this much at the middle of the needle, pixels; measured on simulated clips. */
const FLOOR_PX = 0.022;
/**
 * Share of a frame's bend that its shape does not follow: what a shaking camera did between the rows of a rolling shutter
 * beyond the second power. Measured on simulated clips, calm and shaky (`npm run bench:video`).
 */
const UNFOLLOWED_BEND = 0.03;
/**
 * How far a needle that is blurred otherwise than usual may stand aside, pixels for each square pixel of blur: its two sides
 * and its shadow differ, and a blur is not quite the one that is fitted. 0.004 to 0.01 in simulated clips of a needle that
 * stood still, blurred by 0.4 to 1.2 pixels for as long as a switch was held.
 */
const BLUR_PULL_PX = 0.02;
/** From this many times the clip's usual on, what a needle's fit leaves over is something that lies beside the needle. */
const STRANGE_RESIDUAL = 3;
/** It pulls further than what is left of it tells, since a part passes for turn, contrast and blur; measured. */
const LINE_PULL = 2;
/** From this many times the usual on, the dial's fit is doubted for something that lies on the dial. */
const STRANGE_VIEW = 2;
/**
 * By how much the doubt that registration states is then too small: the light of a window lies on many points alike, which
 * count as one. Measured on simulated clips with the edge of such a light moving over the dial.
 */
const POINTS_ALIKE = 6;

/** Light on a dial changes more slowly than within so many seconds. */
const STEADY_LIGHT_S = 0.5;

/**
 * Standard uncertainty of each angle against its neighbours, radians.
 *
 * The formal one of the fit, scaled so that its square agrees with the jitter from frame to frame; joined by the
 * disagreement between the bands of one needle, which a reflection on a part of it raises, by what registration cannot
 * follow, by a blur that is not the clip's usual, by a needle that light shows otherwise than the print, and a floor. In a frame that the fits explain much worse than the clip's
 * usual, something lies on needle or dial; it is taken for one line beside the needle, all of which pulls to one side, or for one edge on the dial.
 */
export function angleUncertainties(
  timesS: readonly number[],
  fits: readonly (NeedleFit | null)[],
  registrations: readonly (Registration | null)[],
  stepRad: number,
  radiusPx: number,
  lengthPx: number,
): Float64Array {
  const known = fits.filter((fit) => fit !== null);
  // Third differences and their lower quartile: a needle that moves half of the time must not pass for jitter.
  const ratios: number[] = [];
  for (let index = 3; index < known.length; index++) {
    const [first, second, third, fourth] = known.slice(index - 3, index + 1) as [
      NeedleFit,
      NeedleFit,
      NeedleFit,
      NeedleFit,
    ];
    const jump = fourth.step - 3 * third.step + 3 * second.step - first.step;
    const formal = Math.sqrt(
      fourth.formalU ** 2 + 9 * third.formalU ** 2 + 9 * second.formalU ** 2 + first.formalU ** 2,
    );
    ratios.push(Math.abs(jump) / formal);
  }
  ratios.sort((first, second) => first - second);
  // The lower quartile of |N(0, 1)| is 0.3186; a little margin, since the clip alone tells the scale.
  const scale = ratios.length < 10 ? 1 : Math.max(0.02, (1.15 * ratios[ratios.length >> 2]!) / 0.3186);
  const bandCount = known[0]?.bandShifts.length ?? 0;
  const usual = Float64Array.from({ length: bandCount }, (_, band) =>
    middleOf(known.map((fit) => fit.bandShifts[band]!).filter(Number.isFinite)),
  );
  const scatterOf = (fit: NeedleFit) => {
    const apart = [...fit.bandShifts].map((shift, band) => shift - usual[band]!).filter(Number.isFinite);
    const mean = apart.reduce((sum, value) => sum + value, 0) / Math.max(1, apart.length);
    const square = apart.reduce((sum, value) => sum + (value - mean) ** 2, 0);
    return Math.sqrt(square / Math.max(1, apart.length - 1) / Math.max(1, apart.length));
  };
  const usualScatter = middleOf(known.map(scatterOf));
  const usualBlur = middleOf(known.map((fit) => fit.blur));
  const lit = contrastChanges(timesS, fits, registrations);
  const floor = FLOOR_PX / radiusPx;
  const usualResidual = quartileOf(known.map((fit) => fit.residual));
  const views = fits.map((fit, index) => {
    const registration = registrations[index] ?? null;
    return fit === null || registration === null
      ? Number.NaN
      : viewUncertainty(registration, fit.step * stepRad, radiusPx, lengthPx);
  });
  const usualView = quartileOf(views.filter(Number.isFinite));
  return Float64Array.from(fits, (fit, index) => {
    const warp = registrations[index]?.warp;
    if (fit === null || warp === undefined) return Number.NaN;
    // The bend of the dial's rim, at about 1.7 times the needle's middle, as an angle at that middle.
    const bend = UNFOLLOWED_BEND * 3 * radiusPx * Math.hypot(warp.e, warp.m, warp.p, warp.n, warp.q);
    const own = scale * fit.formalU * stepRad;
    // What the bands disagree beyond the usual is a sign of something on the needle.
    const beyond = Math.max(0, scatterOf(fit) - 1.5 * usualScatter) * stepRad;
    const beside = Math.sqrt(Math.max(0, 1 - (STRANGE_RESIDUAL * usualResidual) ** 2 / fit.residual ** 2));
    const pulled = LINE_PULL * beside * Math.sqrt(fit.sampleCount) * fit.formalU * stepRad;
    const view = POINTS_ALIKE * Math.max(0, views[index]! - STRANGE_VIEW * usualView);
    const blurred = (BLUR_PULL_PX * Math.abs(fit.blur - usualBlur)) / radiusPx;
    const lopsided = Math.abs(lopsidedTurn(fit, lit[index]!)) * stepRad;
    return Math.hypot(own, 2 * beyond, bend, floor, pulled, view, blurred, lopsided);
  });
}

/**
 * Standard uncertainty of a turn, steps, by a share of the needle's contrast that may be missing on one flank.
 * Source: JCGM 100:2008, 4.3.7 (a bound of which nothing else is known, over the root of three).
 */
export function lopsidedTurn({ turnPerContrast }: NeedleFit, share: number): number {
  return (share * turnPerContrast) / Math.sqrt(3);
}

/**
 * By which share the needle's contrast is not the clip's usual one against that of the dial's print, in the middle of the
 * frames about each.
 *
 * Exposure changes both alike. A lamp that makes the needle's shadow lighter, or shines on a flank, and a tone curve change
 * the needle alone, and between none and all of it may lie on one of its flanks: all would turn the fit by as much.
 */
function contrastChanges(
  timesS: readonly number[],
  fits: readonly (NeedleFit | null)[],
  registrations: readonly (Registration | null)[],
): Float64Array {
  const known = fits.flatMap((fit, index) => {
    const registration = registrations[index] ?? null;
    return fit === null || registration === null
      ? []
      : [{ timeS: timesS[index]!, ratio: Math.log(fit.gain / registration.gain) }];
  });
  const usual = middleOf(known.map(({ ratio }) => ratio));
  let [from, to] = [0, 0];
  return Float64Array.from(timesS, (timeS) => {
    while (from < known.length && known[from]!.timeS < timeS - STEADY_LIGHT_S / 2) from++;
    while (to < known.length && known[to]!.timeS <= timeS + STEADY_LIGHT_S / 2) to++;
    return from === to ? 0 : middleOf(known.slice(from, to).map(({ ratio }) => ratio)) - usual;
  });
}

/** Doubt of the needle's angle by the registration's own covariance: of shift across the needle, and of the affine part. */
function viewUncertainty({ covariance }: Registration, angleRad: number, radiusPx: number, lengthPx: number): number {
  const [cos, sin] = [Math.cos(angleRad), Math.sin(angleRad)];
  const out = radiusPx / lengthPx;
  const across = [-sin, cos, -sin * cos * out, -sin * sin * out, cos * cos * out, cos * sin * out];
  const size = Math.sqrt(covariance.length);
  let square = 0;
  across.forEach((one, row) => {
    across.forEach((other, column) => {
      square += one * other * covariance[row * size + column]!;
    });
  });
  return Math.sqrt(Math.max(0, square)) / radiusPx;
}

function middleOf(values: readonly number[]): number {
  return [...values].sort((first, second) => first - second)[values.length >> 1] ?? 0;
}

/** The lower quartile: what lies on the dial for half of a clip is not its usual. */
function quartileOf(values: readonly number[]): number {
  return [...values].sort((first, second) => first - second)[values.length >> 2] ?? 0;
}
