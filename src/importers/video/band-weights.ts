import type { NeedleFit } from "./needle-fit.js";
import type { PolarGrid } from "./needle-patch.js";
import type { NeedleProfile } from "./needle-profile.js";

/** What each band of a needle's patch counts for. */
export interface BandWeights {
  /** Share of each band in the common turn; they sum to 1, and are zero for bands that show something else than the needle. */
  readonly shares: Float64Array;
  /** Weights of the bands' squares in the fit, which give them these shares: their mean is 1. */
  readonly weights: Float64Array;
  /** What is usually left in each band, gray levels squared. */
  readonly variances: Float64Array;
}

/** A band is believed to err by as many pixels as the others until the clip shows otherwise: worth this many frames. */
const PRIOR_FRAMES = 30;
/** Of the bands' scatter from frame to frame the largest are left out: a reflection that passes is no usual error. */
const USUAL_SHARE = 0.95;

/** Before anything is known of the bands: all squares count alike. */
export function evenBands(bandCount: number): BandWeights {
  const ones = () => new Float64Array(bandCount).fill(1);
  return { shares: ones().fill(1 / bandCount), weights: ones(), variances: ones() };
}

/**
 * Weights by how much each band's own turn scatters about the others' from frame to frame, not by how well the band fits: a
 * codec moves whole blocks of a picture by parts of a pixel, which fits well and reads wrong, and a pixel at a small radius
 * is a large turn.
 *
 * Second differences of each band's turn less the bands' median, so that neither the needle's movement nor parallax counts.
 */
export function bandWeights(
  fits: readonly (NeedleFit | null)[],
  shown: readonly boolean[],
  profile: NeedleProfile,
  grid: PolarGrid,
): BandWeights {
  const bandCount = shown.length;
  const known = fits.filter((fit) => fit !== null);
  if (known.length === 0) return evenBands(bandCount);
  const scatter = scatterOf(fits, bandCount);
  const perBand = (of: (band: number) => number) => Float64Array.from({ length: bandCount }, (_, band) => of(band));
  const squarePx = perBand((band) => scatter.squares[band]! * grid.bandRadiusPx[band]! ** 2)
    .filter(Number.isFinite)
    .reduce((sum, square, _, all) => sum + square / all.length, 0);
  const shares = perBand((band) => {
    if (!shown[band]) return 0;
    const square = scatter.squares[band]!;
    const frames = Number.isFinite(square) ? scatter.count : 0;
    const prior = (squarePx > 0 ? squarePx : 1) / grid.bandRadiusPx[band]! ** 2;
    return (PRIOR_FRAMES + frames) / (PRIOR_FRAMES * prior + (frames > 0 ? frames * square : 0));
  });
  const weights = perBand((band) => (shown[band] ? shares[band]! / energyOf(profile, band) : 0));
  const [sum, mean] = [total(shares), total(weights) / bandCount];
  return {
    shares: shares.map((share) => share / sum),
    weights: weights.map((weight) => weight / mean),
    variances: perBand((band) => {
      const left = Float64Array.from(known, (fit) => fit.bandVariances[band]!).sort();
      return left[left.length >> 1]! + 0.05;
    }),
  };
}

function total(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0);
}

/** What a band's slopes have to say of a turn, gray levels squared per step squared. */
function energyOf(profile: NeedleProfile, band: number): number {
  let energy = 0;
  for (let index = profile.from[band]!; index <= profile.to[band]!; index++)
    energy += profile.slopes[band * profile.stepCount + index]! ** 2;
  return Math.max(energy, 1e-9);
}

/** Mean squares of the bands' second differences, steps squared, NaN where a band cannot tell; and of how many. */
function scatterOf(fits: readonly (NeedleFit | null)[], bandCount: number): { squares: Float64Array; count: number } {
  const found = Array.from({ length: bandCount }, (): number[] => []);
  let count = 0;
  for (let index = 2; index < fits.length; index++) {
    const [before, here, after] = [fits[index - 2], fits[index - 1], fits[index]];
    if (before == null || here == null || after == null) continue;
    const bends = here.bandShifts.map((shift, band) => before.bandShifts[band]! - 2 * shift + after.bandShifts[band]!);
    const finite = bends.filter(Number.isFinite).sort();
    if (finite.length === 0) continue;
    const middle = (finite[finite.length >> 1]! + finite[(finite.length - 1) >> 1]!) / 2;
    count++;
    bends.forEach((bend, band) => {
      if (Number.isFinite(bend)) found[band]!.push((bend - middle) ** 2);
    });
  }
  const squares = Float64Array.from(found, (all) => {
    if (2 * all.length < count || all.length === 0) return Number.NaN;
    const usual = all.sort((a, b) => a - b).slice(0, Math.ceil(USUAL_SHARE * all.length));
    return usual.reduce((sum, square) => sum + square / usual.length, 0);
  });
  return { squares, count };
}
