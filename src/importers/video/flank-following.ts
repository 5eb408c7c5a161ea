import { loadBand, samples } from "./band-samples.js";
import type { FollowedFrame } from "./frame-follower.js";
import type { NeedleFit } from "./needle-fit.js";
import type { PolarGrid } from "./needle-patch.js";
import type { NeedleProfile } from "./needle-profile.js";
import { lopsidedTurn } from "./reading-uncertainty.js";

/** How strips across the needle, of equal say in its fit, follow its turning over all frames. */
export interface FlankFollowing {
  /** Each strip's turn over the common fit's: 1 where it shows the needle as the others do. */
  readonly rates: Float64Array;
  readonly u: Float64Array;
  /** By what share of its turn the needle is doubted already, since its contrast changes with the turn otherwise than the print's. */
  readonly doubted: number;
}

const STRIP_COUNT = 8;
/** Fewer frames tell nothing. */
const LEAST_FRAMES = 8;

/**
 * Regression of the turn that each strip alone would show on the common turn.
 *
 * A line, an edge or another pointer all along the needle holds every ring back alike, and is seen across the needle: where
 * print lies, the picture does not move, and the fit's common turn is too small for what moves.
 *
 * @returns null where too few frames show the needle.
 */
export function flankFollowing(
  frames: readonly FollowedFrame[],
  fits: readonly (NeedleFit | null)[],
  profile: NeedleProfile,
  weights: Float64Array,
  grid: PolarGrid,
): FlankFollowing | null {
  const strips = stripsAcross(profile, weights, grid);
  const seen = frames.flatMap(({ patch, registration }, index) => {
    const fit = fits[index] ?? null;
    if (patch === null || fit === null || registration === null) return [];
    const turns = stripTurns({ patch, fit }, profile, weights, grid, strips);
    const doubt = lopsidedTurn(fit, Math.log(fit.gain / registration.gain));
    return turns === null ? [] : [{ step: fit.step, turns, doubt }];
  });
  if (seen.length < LEAST_FRAMES) return null;
  const middle = seen.reduce((sum, { step }) => sum + step, 0) / seen.length;
  const squares = seen.reduce((sum, { step }) => sum + (step - middle) ** 2, 0);
  const doubted = Math.abs(seen.reduce((sum, { step, doubt }) => sum + (step - middle) * doubt, 0)) / squares;
  const rates = new Float64Array(STRIP_COUNT);
  const u = new Float64Array(STRIP_COUNT);
  for (let strip = 0; strip < STRIP_COUNT; strip++) {
    const mean = seen.reduce((sum, { turns }) => sum + turns[strip]!, 0) / seen.length;
    const along = seen.reduce((sum, { step, turns }) => sum + (turns[strip]! - mean) * (step - middle), 0) / squares;
    const left = seen.reduce((sum, { step, turns }) => sum + (turns[strip]! - mean - along * (step - middle)) ** 2, 0);
    rates[strip] = 1 + along;
    u[strip] = Math.sqrt(left / (seen.length - 2) / squares);
  }
  return { rates, u, doubted };
}

/** The strip of each column of each band: by the distance from the needle's axis, so that all have as much to say of a turn. */
function stripsAcross(profile: NeedleProfile, weights: Float64Array, grid: PolarGrid): Uint8Array {
  const { bandCount, stepCount, centreIndex, slopes } = profile;
  const columns: { at: number; asidePx: number; say: number }[] = [];
  for (let band = 0; band < bandCount; band++) {
    if (weights[band] === 0) continue;
    for (let column = profile.from[band]!; column <= profile.to[band]!; column++) {
      const at = band * stepCount + column;
      const asidePx = (column - centreIndex) * grid.stepRad * grid.bandRadiusPx[band]!;
      columns.push({ at, asidePx, say: weights[band]! * slopes[at]! ** 2 });
    }
  }
  columns.sort((first, second) => first.asidePx - second.asidePx);
  const whole = columns.reduce((sum, { say }) => sum + say, 0);
  const strips = new Uint8Array(bandCount * stepCount);
  let before = 0;
  for (const { at, say } of columns) {
    strips[at] = Math.min(STRIP_COUNT - 1, Math.floor((STRIP_COUNT * before) / whole));
    before += say;
  }
  return strips;
}

/** By how much each strip alone would turn the needle beyond the fit, steps. */
function stripTurns(
  { patch, fit }: { readonly patch: NonNullable<FollowedFrame["patch"]>; readonly fit: NeedleFit },
  profile: NeedleProfile,
  weights: Float64Array,
  grid: PolarGrid,
  strips: Uint8Array,
): Float64Array | null {
  const along = new Float64Array(STRIP_COUNT);
  const squares = new Float64Array(STRIP_COUNT);
  const [data, value, slope] = samples as [Float64Array, Float64Array, Float64Array];
  for (let band = 0; band < profile.bandCount; band++) {
    const weight = weights[band]!;
    if (weight === 0) continue;
    const centre = fit.step + fit.lateral / grid.bandRadiusPx[band]! + patch.bandOffsets[band]! - patch.firstStep;
    const window = loadBand(patch, profile, band, centre, fit.blur);
    if (window === null) return null;
    const first = band * profile.stepCount + Math.round(window.start);
    for (let index = 0; index < window.count; index++) {
      const strip = strips[first + index]!;
      along[strip]! += weight * slope[index]! * (fit.gain * value[index]! - data[index]!);
      squares[strip]! += weight * slope[index]! ** 2;
    }
  }
  return along.map((sum, strip) => sum / fit.gain / squares[strip]!);
}

/** Strips of a needle without print beside it scatter by less, root mean square, in rendered and simulated clips. */
const USUAL_SCATTER = 0.01;
/** Scatter below so many times what noise makes of it on the average is taken for noise. */
const NOISE_RATIO = 2;
/** Rates known to no better than this, errors of ten frames counted as one, tell nothing: the needle hardly turned. */
const TELLING = 0.1;
const ALIKE_FRAMES = 10;
/** How much further than the strips scatter the needle may have turned: by so much that `test/bench/video/prints.ts` holds. */
const BEYOND = 3;
/** Strips scatter by so much of what a shadow that changes makes doubtful: by 1.07 to 1.13 of it in clips of `test/bench/video/by-the-beat.ts`. */
const SHADOW_SCATTER = 1.17;

/**
 * Standard uncertainty of every turn's size, as a fraction, by how much the strips scatter about the fit, which is the mean
 * of all; zero where the needle turns too little to tell. A shadow that changes as the needle turns sets strips apart too, by
 * about what each reading is doubted for that (`reading-uncertainty.ts`), which is not doubted again.
 */
export function flankUncertainty({ rates, u, doubted }: FlankFollowing): number {
  const mean = (of: (strip: number) => number) => rates.reduce((sum, _, strip) => sum + of(strip) / rates.length, 0);
  const noise = mean((strip) => u[strip]! ** 2);
  if (!(ALIKE_FRAMES * noise <= TELLING ** 2)) return 0;
  const middle = mean((strip) => rates[strip]!);
  const variance = mean((strip) => (rates[strip]! - middle) ** 2) - NOISE_RATIO * noise;
  return BEYOND * Math.sqrt(Math.max(0, variance - USUAL_SCATTER ** 2 - (SHADOW_SCATTER * doubted) ** 2));
}
