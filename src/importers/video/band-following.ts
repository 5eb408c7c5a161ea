import type { NeedleFit } from "./needle-fit.js";

/** How bands follow the needle's turning, from all frames. */
export interface BandFollowing {
  /** Each band's turn over the common fit's: 1 where it shows the needle as the others do, 0 for print. NaN where unknown. */
  readonly rates: Float64Array;
  readonly u: Float64Array;
}

/** Fewer frames tell nothing. */
const LEAST_FRAMES = 8;

/**
 * Regression of each band's own shift on the common turn. Noise does not draw it to one side where the bands' weights are
 * their reciprocal variances: what a band's noise adds to the turn and to its own shift then is the same for all.
 *
 * @returns null where too few frames show the needle.
 */
export function bandFollowing(fits: readonly (NeedleFit | null)[], bandCount: number): BandFollowing | null {
  const seen = fits.filter((fit) => fit !== null);
  if (seen.length < LEAST_FRAMES) return null;
  const middle = seen.reduce((sum, fit) => sum + fit.step, 0) / seen.length;
  const turns = seen.map((fit) => fit.step - middle);
  const squares = turns.reduce((sum, turn) => sum + turn * turn, 0);
  const rates = new Float64Array(bandCount).fill(Number.NaN);
  const u = new Float64Array(bandCount).fill(Number.POSITIVE_INFINITY);
  for (let band = 0; band < bandCount; band++) {
    const shifts = seen.map((fit) => fit.bandShifts[band]!);
    if (!shifts.every(Number.isFinite)) continue;
    const mean = shifts.reduce((sum, shift) => sum + shift, 0) / shifts.length;
    const along = shifts.reduce((sum, shift, at) => sum + (shift - mean) * turns[at]!, 0) / squares;
    const left = shifts.reduce((sum, shift, at) => sum + (shift - mean - along * turns[at]!) ** 2, 0);
    rates[band] = 1 + along;
    u[band] = Math.sqrt(left / (shifts.length - 2) / squares);
  }
  return { rates, u };
}

/** Bands that follow alike turn within this of each other, a fraction. */
const ALIKE = 0.1;
/** A band so far from those, a fraction, and by so many of its standard uncertainties, shows something else than the needle. */
const APART = 0.03;
const SURE = 4;
const LEAST_BANDS = 3;

/**
 * The bands that show the needle: the most that turn alike, of equally many those that turn farther, since print beside the
 * needle holds a band back. All, where there are not three such, or where the needle turns too little to tell.
 */
export function followingBands({ rates, u }: BandFollowing, weights: Float64Array): boolean[] {
  const alike = alikeRates(rates);
  if (alike.length < LEAST_BANDS || !tells(u, weights)) return Array.from(rates, () => true);
  const [most, least] = [alike[0]!, alike.at(-1)!];
  return Array.from(rates, (rate, band) => {
    const room = Math.max(APART * most, SURE * u[band]!);
    return !(rate > most + room || rate < least - room);
  });
}

/** The most rates that are alike, falling. */
function alikeRates(rates: Float64Array): number[] {
  const falling = [...rates].filter((rate) => rate > 0).sort((first, second) => second - first);
  let best: number[] = [];
  falling.forEach((most, at) => {
    const alike = falling.slice(at).filter((rate) => rate >= (1 - ALIKE) * most);
    if (alike.length > best.length) best = alike;
  });
  return best;
}

/** Bands that see nothing but the needle scattered by less, on rendered dials (a script that is not kept). */
const USUAL_SCATTER = 0.005;
/** What bands share of the fault is larger than what sets them apart: by so much that `test/bench/video/prints.ts` holds. */
const SHARED = 5;
/** Scatter below so many times what noise makes of it on the average is taken for noise: ten bands exceed it in 2 of 100 clips. */
const NOISE_RATIO = 2;
/**
 * Rates known to no better than this, errors of ten frames counted as one, tell nothing: the needle hardly turned, and a
 * ratio to its turn may be anything. 0.002 to 0.04 in rendered clips of a needle that turned (by 0.1 V and more at 160 px), 0.16 to
 * 0.21 of one that stood still (a script that is not kept).
 */
const TELLING = 0.1;
const ALIKE_FRAMES = 10;

/** Whether rates of such standard uncertainties tell of anything but noise, each band by its weight. */
function tells(u: Float64Array, weights: Float64Array): boolean {
  const known = weights.map((weight, band) => (Number.isFinite(u[band]!) ? weight : 0));
  const total = known.reduce((sum, weight) => sum + weight, 0);
  const noise = known.reduce((sum, weight, band) => sum + (weight > 0 ? (weight * u[band]! ** 2) / total : 0), 0);
  return total > 0 && ALIKE_FRAMES * noise <= TELLING ** 2;
}

/**
 * Standard uncertainty of every turn's size by print beside the needle, as a fraction: it holds bands back unequally. Of
 * bands that turn alike, if there are such, else of all; zero where the needle turns too little to tell.
 */
export function followingUncertainty({ rates, u }: BandFollowing, weights: Float64Array): number {
  const alike = alikeRates(rates);
  const [most, least] = alike.length < LEAST_BANDS ? [Infinity, -Infinity] : [alike[0]!, alike.at(-1)!];
  const near = [...rates]
    .map((rate, band) => ({ rate, noise: u[band]! ** 2, weight: weights[band]! }))
    .filter(({ rate, weight }) => weight > 0 && rate >= least && rate <= most);
  const total = near.reduce((sum, { weight }) => sum + weight, 0);
  const noise = near.reduce((sum, one) => sum + (one.weight * one.noise) / total, 0);
  if (total === 0 || ALIKE_FRAMES * noise > TELLING ** 2) return 0;
  const mean = near.reduce((sum, { rate, weight }) => sum + weight * rate, 0) / total;
  const variance =
    near.reduce((sum, { rate, noise, weight }) => sum + weight * ((rate - mean) ** 2 - NOISE_RATIO * noise), 0) / total;
  return SHARED * Math.sqrt(Math.max(0, variance / (mean * mean) - USUAL_SCATTER ** 2));
}
