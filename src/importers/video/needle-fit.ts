import { loadBand, sampleSlopes, samples } from "./band-samples.js";
import type { NeedlePatch } from "./needle-patch.js";
import type { NeedleProfile } from "./needle-profile.js";
import { emptyEquations, type NormalEquations, solveEquations } from "./normal-equations.js";

/** Where the needle is in a patch. */
export interface NeedleFit {
  /** Step of the needle's angle on the grid, with its fraction. */
  readonly step: number;
  /** Formal standard uncertainty of `step` if every sample were independent. */
  readonly formalU: number;
  /** The turn that would change the patch by as much as all of the needle's contrast is, steps. */
  readonly turnPerContrast: number;
  /** Contrast against the profile's. */
  readonly gain: number;
  /** Blur across the needle beyond the profile's: variance, pixels squared; negative where the frame is sharper. */
  readonly blur: number;
  /** Share of the patch's variance about each band's own slope that the needle explains. */
  readonly explained: number;
  /** Root mean square of what is left, gray levels, and over how many samples. */
  readonly residual: number;
  readonly sampleCount: number;
  /** Sideways shift of the whole needle that was held, in steps times pixels of radius. */
  readonly lateral: number;
  /** The shift that the patch shows where it is not held but fitted beside the turn: by one step from here. */
  readonly freeLateral: number;
  /** How far each band alone would move the needle, steps; NaN where a band cannot tell. */
  readonly bandShifts: Float64Array;
  /** Variance of what is left in each band, gray levels squared. */
  readonly bandVariances: Float64Array;
  /** Slope of the light across each band beyond the profile's, gray levels per step. */
  readonly lightSlopes: Float64Array;
}

export interface FitOptions {
  /** Weights of the bands' squares, and what is usually left in each, gray levels squared. */
  readonly bands: { readonly weights: Float64Array; readonly variances: Float64Array };
  /** Mean radius of each band, pixels. */
  readonly bandRadiusPx: Float64Array;
  /** Sideways shift that is known, in steps times pixels. */
  readonly lateral: number;
  /** Slope of the light across each band, where it is known; else it is free. */
  readonly lightSlopes?: Float64Array | undefined;
}

/** What blur can be told from the profile's, pixels squared. */
const LEAST_BLUR = -0.7;
const MOST_BLUR = 12;
const ROUNDS = 14;

/**
 * Moves the profile along the patch until it matches: shift, contrast and blur common to all bands, level and slope of
 * the light free in each (the slope unless it is known). Null when the needle leaves the patch or nothing like it is there.
 */
export function fitNeedle(
  patch: NeedlePatch,
  profile: NeedleProfile,
  startStep: number,
  options: FitOptions,
): NeedleFit | null {
  let step = startStep;
  const { lateral } = options;
  let blur = 0;
  const robust = Float64Array.from(options.bands.weights);
  for (let round = 0; round < ROUNDS; round++) {
    const bands = bandSums(patch, profile, { step, lateral, blur }, options);
    if (bands === null) return null;
    const solved = solveEquations(equationsOf(bands, robust, 3));
    if (solved === null) return null;
    const gain = solved.solution[0]!;
    if (!(gain > 0.05)) return null;
    const limit = 4;
    const change = Math.max(-limit, Math.min(limit, -solved.solution[1]! / gain));
    step += change;
    blur = Math.max(LEAST_BLUR, Math.min(MOST_BLUR, blur + solved.solution[2]! / gain));
    const tellsBands = judgeBands(bands, solved.solution, options, robust);
    // A weight that goes to and fro keeps the last steps small but never still: far below any doubt of the reading.
    const still = round < ROUNDS - 1 ? 2e-4 : 5e-3;
    if (round > 0 && Math.abs(change) < still)
      return {
        ...finish(bands, solved, { step, lateral, gain, blur }, tellsBands, options.bands.weights),
        freeLateral: lateral + freedShift(bands, robust, gain),
      };
  }
  return null;
}

interface BandSums {
  /** Sums of products of data, profile, slope, blurring after the band's level and slope are taken off. */
  readonly products: Float64Array;
  /** The slopes of these four series. */
  readonly slopes: Float64Array;
  readonly sampleCount: number;
  readonly lateralFactor: number;
}

function bandSums(
  patch: NeedlePatch,
  profile: NeedleProfile,
  { step, lateral, blur }: { readonly step: number; readonly lateral: number; readonly blur: number },
  options: FitOptions,
): BandSums[] | null {
  const found: BandSums[] = [];
  for (let band = 0; band < profile.bandCount; band++) {
    const lateralFactor = 1 / options.bandRadiusPx[band]!;
    const centre = step + lateral * lateralFactor + patch.bandOffsets[band]! - patch.firstStep;
    const window = loadBand(patch, profile, band, centre, blur, options.lightSlopes?.[band]);
    if (window === null) return null;
    found.push({
      products: products(window.count),
      slopes: sampleSlopes.slice(),
      sampleCount: window.count,
      lateralFactor,
    });
  }
  return found;
}

/** Equations of contrast, turn and blur, and as a fourth of a sideways shift where `size` is 4. */
function equationsOf(bands: readonly BandSums[], weights: Float64Array, size: 3 | 4): NormalEquations {
  const sums = emptyEquations(size);
  bands.forEach(({ products, lateralFactor }, band) => {
    const weight = weights[band]!;
    // Products are ordered data, profile, slope, blurring: the upper triangle of their Gram matrix.
    const gram = (i: number, j: number) => products[i * 4 + j]!;
    for (let i = 0; i < 3; i++) {
      sums.right[i]! += weight * gram(0, i + 1);
      for (let j = i; j < 3; j++) sums.matrix[i * size + j]! += weight * gram(i + 1, j + 1);
    }
    if (size === 3) return;
    sums.right[3]! += weight * lateralFactor * gram(0, 2);
    sums.matrix[3]! += weight * lateralFactor * gram(1, 2);
    sums.matrix[size + 3]! += weight * lateralFactor * gram(2, 2);
    sums.matrix[2 * size + 3]! += weight * lateralFactor * gram(2, 3);
    sums.matrix[3 * size + 3]! += weight * lateralFactor ** 2 * gram(2, 2);
  });
  // Blur is nearly unknown for a wide needle: a little knowledge that it stays near zero keeps the fit in hand.
  const third = 2 * size + 2;
  sums.matrix[third]! += 1e-3 * sums.matrix[third]! + 1e-9;
  return sums;
}

/** By how much a fit that has come to rest would shift the needle sideways, were it free to. */
function freedShift(bands: readonly BandSums[], weights: Float64Array, gain: number): number {
  const solved = solveEquations(equationsOf(bands, weights, 4));
  return solved === null ? Number.NaN : -solved.solution[3]! / gain;
}

function products(count: number): Float64Array {
  const found = new Float64Array(16);
  for (let i = 0; i < 4; i++) {
    for (let j = i; j < 4; j++) {
      let sum = 0;
      const first = samples[i]!;
      const second = samples[j]!;
      for (let index = 0; index < count; index++) sum += first[index]! * second[index]!;
      found[i * 4 + j] = sum;
    }
  }
  return found;
}

interface BandJudgement {
  readonly shifts: Float64Array;
  readonly residuals: Float64Array;
}

/** What each band alone would say, and a smaller weight for a band that fits much worse than the others. */
function judgeBands(
  bands: readonly BandSums[],
  solution: Float64Array,
  options: FitOptions,
  robust: Float64Array,
): BandJudgement {
  const [gain, turn, blur] = [solution[0]!, solution[1]!, solution[2]!];
  const shifts = new Float64Array(bands.length);
  const residuals = new Float64Array(bands.length);
  bands.forEach(({ products, sampleCount }, band) => {
    const p = (i: number, j: number) => products[i * 4 + j]!;
    const left =
      p(0, 0) -
      2 * gain * p(0, 1) -
      2 * turn * p(0, 2) -
      2 * blur * p(0, 3) +
      gain * gain * p(1, 1) +
      2 * gain * turn * p(1, 2) +
      2 * gain * blur * p(1, 3) +
      turn * turn * p(2, 2) +
      2 * turn * blur * p(2, 3) +
      blur * blur * p(3, 3);
    residuals[band] = Math.max(left, 0) / Math.max(1, sampleCount - 5);
    shifts[band] =
      p(2, 2) > 0 ? -(p(0, 2) - gain * p(1, 2) - blur * p(2, 3)) / (gain * p(2, 2)) + turn / gain : Number.NaN;
  });
  const { weights, variances } = options.bands;
  const weighed = residuals
    .map((value, band) => (weights[band] === 0 ? 0 : value / variances[band]!))
    .filter((value) => value > 0);
  const typical = weighed.sort()[weighed.length >> 1] ?? 0;
  for (let band = 0; band < bands.length; band++) {
    const excess = residuals[band]! / variances[band]! / Math.max(typical, 1e-12);
    robust[band] = weights[band]! * (excess > 6 ? 6 / excess : 1);
  }
  return { shifts, residuals };
}

function finish(
  bands: readonly BandSums[],
  solved: { solution: Float64Array; inverse: Float64Array },
  at: { step: number; lateral: number; gain: number; blur: number },
  judged: BandJudgement,
  weights: Float64Array,
): Omit<NeedleFit, "freeLateral"> {
  let total = 0;
  let left = 0;
  let count = 0;
  let [contrastSquare, turnSquare] = [0, 0];
  bands.forEach(({ products, sampleCount }, band) => {
    if (weights[band] === 0) return;
    contrastSquare += weights[band]! * products[5]!;
    turnSquare += weights[band]! * products[10]!;
    total += products[0]!;
    left += judged.residuals[band]! * Math.max(1, sampleCount - 5);
    count += sampleCount;
  });
  const variance = left / Math.max(1, count);
  const size = Math.round(Math.sqrt(solved.inverse.length));
  return {
    ...at,
    formalU: Math.sqrt(solved.inverse[size + 1]! * variance) / at.gain,
    turnPerContrast: Math.sqrt(contrastSquare / turnSquare),
    explained: total > 0 ? 1 - left / total : 0,
    residual: Math.sqrt(variance),
    sampleCount: count,
    bandShifts: judged.shifts,
    bandVariances: judged.residuals,
    lightSlopes: Float64Array.from(bands, ({ slopes }) =>
      solved.solution.reduce((left, part, unknown) => left - part * slopes[unknown + 1]!, slopes[0]!),
    ),
  };
}
