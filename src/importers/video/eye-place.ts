/** What a frame tells of where the needle stands above its face; NaN in both where it was not seen. */
export interface EyeClue {
  readonly timeS: number;
  /** Sideways shift of the whole needle, fitted freely beside its turn, pixels. */
  readonly shiftPx: number;
  /** Its turn, radians. */
  readonly turnRad: number;
}

export interface EyeWalk {
  /** How far the needle stands beside its place on the face, frame by frame, pixels about their mean. */
  readonly asidePx: Float64Array;
  /** Standard uncertainty of each. */
  readonly uPx: number;
}

/**
 * How far the needle stands beside its place on the face because the eye moves: it lies above the face, and a hand that
 * reaches for a switch moves the phone for as long as it stays there. The dial in the picture need not move.
 *
 * A random walk seen through noise (local level model), by Kalman's filter and smoother; its step is the one of the largest
 * likelihood. Where the walk tells no more than noise alone, it stands still. A pivot that is off along the needle shifts a
 * needle that turns: that part, known to be small, is fitted beside the walk and left out of it.
 * Source: J. Durbin, S. J. Koopman, Time Series Analysis by State Space Methods, 2nd ed., 2.2 to 2.4 and 6.2 (from memory).
 */
export function walkOfTheEye(clues: readonly EyeClue[], uPivotPx: number): EyeWalk {
  const still: EyeWalk = { asidePx: new Float64Array(clues.length), uPx: 0 };
  const seen = clues.flatMap(({ shiftPx, turnRad }, at) => (Number.isFinite(shiftPx + turnRad) ? [at] : []));
  if (seen.length < LEAST_FRAMES) return still;
  const known = seen.map((at) => clues[at]!);
  const resting = walkFit(known, 0, uPivotPx);
  let best = resting;
  for (const ratio of RATIOS_PER_S) {
    const fit = walkFit(known, ratio, uPivotPx);
    if (fit.logLikelihood > best.logLikelihood) best = fit;
  }
  if (best.logLikelihood < resting.logLikelihood + LEAST_GAIN) return still;
  const mean = best.levels.reduce((sum, level) => sum + level, 0) / best.levels.length;
  let next = 0;
  const asidePx = still.asidePx.map((_, at) => {
    while (next < seen.length - 1 && seen[next]! < at) next++;
    return best.levels[next]! - mean;
  });
  return { asidePx, uPx: best.uPx };
}

const LEAST_FRAMES = 20;
/** Variance of the walk's steps in a second against that of the noise in a frame. */
const RATIOS_PER_S = Array.from({ length: 13 }, (_, at) => 0.003 * 10 ** (at / 3));
/** Errors of neighbouring frames are alike: so many frames count as one. */
const ALIKE = 10;
/**
 * A walk is believed that is so much likelier than none, by the logarithm. In shaking clips whose eye stayed in its place, the
 * slow part of what registration leaves gained up to 23; an eye
 * that moved by a thousandth of the needle's length 150 (a script that is not kept).
 */
const LEAST_GAIN = 3 * ALIKE;
/** Noise beyond this many standard deviations loses its weight. */
const OUTLIER_LIMIT = 3;
const ROUNDS = 3;

interface WalkFit {
  readonly logLikelihood: number;
  readonly levels: Float64Array;
  readonly uPx: number;
}

/** Levels for a given ratio; the noise's size follows from the innovations, and outliers are weighed down. */
function walkFit(clues: readonly EyeClue[], ratioPerS: number, uPivotPx: number): WalkFit {
  const noise = new Float64Array(clues.length).fill(1);
  const shifts = clues.map(({ shiftPx }) => shiftPx);
  const turns = clues.map(({ turnRad }) => turnRad);
  let fit: WalkFit = { logLikelihood: Number.NEGATIVE_INFINITY, levels: new Float64Array(0), uPx: 0 };
  for (let round = 0; round < ROUNDS; round++) {
    const ofShifts = smoothed(clues, shifts, noise, ratioPerS);
    const ofTurns = smoothed(clues, turns, noise, ratioPerS);
    const { pivotPx, scale } = pivotFit(ofShifts, ofTurns, uPivotPx);
    const count = clues.length - 1;
    const logs = ofShifts.variances.subarray(1).reduce((sum, variance) => sum + Math.log(variance), 0);
    const levels = ofShifts.levels.map((level, at) => level - pivotPx * ofTurns.levels[at]!);
    const logLikelihood = -0.5 * (count * Math.log(scale) + logs + (pivotPx / uPivotPx) ** 2);
    fit = { logLikelihood, levels, uPx: Math.sqrt(ALIKE * scale * ofShifts.variance) };
    for (let at = 0; at < clues.length; at++)
      noise[at] = 1 + (shifts[at]! - pivotPx * turns[at]! - levels[at]!) ** 2 / scale / OUTLIER_LIMIT ** 2;
  }
  return fit;
}

/** The pivot's part by least squares on the innovations, held near zero by what is known of it; twice, for the noise's size. */
function pivotFit(ofShifts: Smoothed, ofTurns: Smoothed, uPivotPx: number): { pivotPx: number; scale: number } {
  const count = ofShifts.errors.length - 1;
  let [products, squares] = [0, 0];
  for (let at = 1; at <= count; at++) {
    products += (ofTurns.errors[at]! * ofShifts.errors[at]!) / ofShifts.variances[at]!;
    squares += ofTurns.errors[at]! ** 2 / ofShifts.variances[at]!;
  }
  const scaleWith = (pivotPx: number) => {
    let left = 0;
    for (let at = 1; at <= count; at++)
      left += (ofShifts.errors[at]! - pivotPx * ofTurns.errors[at]!) ** 2 / ofShifts.variances[at]!;
    return Math.max(left / count, Number.MIN_VALUE);
  };
  const first = products / (squares + scaleWith(0) / uPivotPx ** 2);
  const pivotPx = products / (squares + scaleWith(first) / uPivotPx ** 2);
  return { pivotPx, scale: scaleWith(pivotPx) };
}

interface Smoothed {
  /** Innovations and their variances; the first says nothing. */
  readonly errors: Float64Array;
  readonly variances: Float64Array;
  readonly levels: Float64Array;
  /** Mean variance of a level. */
  readonly variance: number;
}

/** Kalman's filter and the Rauch-Tung-Striebel smoother of a local level; variances in units of the noise in a frame. */
function smoothed(
  clues: readonly EyeClue[],
  values: readonly number[],
  noise: Float64Array,
  ratioPerS: number,
): Smoothed {
  const count = values.length;
  const [predicted, spread, filtered, left] = fourRows(count);
  const [errors, variances, levels] = fourRows(count);
  let [level, variance] = [values[0]!, 1e6];
  for (let at = 0; at < count; at++) {
    if (at > 0) variance += ratioPerS * (clues[at]!.timeS - clues[at - 1]!.timeS);
    [predicted[at], spread[at]] = [level, variance];
    errors[at] = values[at]! - level;
    variances[at] = variance + noise[at]!;
    level += (variance / variances[at]!) * errors[at]!;
    variance *= noise[at]! / variances[at]!;
    [filtered[at], left[at]] = [level, variance];
  }
  levels[count - 1] = level;
  let [smooth, sum] = [variance, variance];
  for (let at = count - 2; at >= 0; at--) {
    const pull = left[at]! / spread[at + 1]!;
    levels[at] = filtered[at]! + pull * (levels[at + 1]! - predicted[at + 1]!);
    smooth = left[at]! + pull * pull * (smooth - spread[at + 1]!);
    sum += smooth;
  }
  return { errors, variances, levels, variance: sum / count };
}

function fourRows(count: number): [Float64Array, Float64Array, Float64Array, Float64Array] {
  return [new Float64Array(count), new Float64Array(count), new Float64Array(count), new Float64Array(count)];
}
