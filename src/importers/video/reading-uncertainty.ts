import type { NeedleFit } from "./needle-fit.js";
import type { Warp } from "./warp.js";

/** Registration and optics err slowly by this much at the middle of the needle, pixels; measured on simulated clips. */
const FLOOR_PX = 0.022;
/**
 * Share of a frame's bend that its shape does not follow: what a shaking camera did between the rows of a rolling shutter
 * beyond the second power. Measured on simulated clips, calm and shaky (`npm run bench:video`).
 */
const UNFOLLOWED_BEND = 0.03;

/**
 * Standard uncertainty of each angle against its neighbours, radians.
 *
 * The formal one of the fit, scaled so that its square agrees with the jitter from frame to frame; joined by the
 * disagreement between the bands of one needle, which a reflection on a part of it raises, by what registration cannot
 * follow, and a floor.
 */
export function angleUncertainties(
  fits: readonly (NeedleFit | null)[],
  warps: readonly (Warp | null)[],
  stepRad: number,
  radiusPx: number,
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
  const floor = FLOOR_PX / radiusPx;
  return Float64Array.from(fits, (fit, index) => {
    const warp = warps[index] ?? null;
    if (fit === null || warp === null) return Number.NaN;
    // The bend of the dial's rim, at about 1.7 times the needle's middle, as an angle at that middle.
    const bend = UNFOLLOWED_BEND * 3 * radiusPx * Math.hypot(warp.e, warp.m, warp.p, warp.n, warp.q);
    const own = scale * fit.formalU * stepRad;
    // What the bands disagree beyond the usual is a sign of something on the needle.
    const beyond = Math.max(0, scatterOf(fit) - 1.5 * usualScatter) * stepRad;
    return Math.hypot(own, 2 * beyond, bend, floor);
  });
}

function middleOf(values: readonly number[]): number {
  return [...values].sort((first, second) => first - second)[values.length >> 1] ?? 0;
}
