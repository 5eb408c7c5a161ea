import type { NeedlePatch, PolarGrid } from "./needle-patch.js";

/**
 * How the needle looks across, band by band: contrast against the dial in gray levels, zero away from the needle.
 *
 * Column `centreIndex` is where the needle's own angle lies.
 */
export interface NeedleProfile {
  readonly bandCount: number;
  readonly stepCount: number;
  readonly centreIndex: number;
  /** Band by band at each of the blurs of `PROFILE_BLURS`, one blur after the other, and the slopes along the columns. */
  readonly values: Float32Array;
  readonly slopes: Float32Array;
  /** First and last column that the fit uses in each band. */
  readonly from: Int32Array;
  readonly to: Int32Array;
  /** Mean contrast in the middle of the needle, gray levels; negative for a dark needle. */
  readonly contrast: number;
}

/** Blurs beyond the profile's own at which a frame may see it: variances across the needle, pixels squared. */
export const PROFILE_BLURS = [0, 1, 3, 7] as const;

/** The profile in a patch whose needle lies at column `centreIndex`, at most `reach` columns to either side. */
export function needleProfile(
  patch: Pick<NeedlePatch, "stepCount" | "bandCount" | "values">,
  grid: PolarGrid,
  centreIndex: number,
  reach: number,
): NeedleProfile {
  const { bandCount } = patch;
  const stepCount = 2 * reach + 1;
  const values = new Float32Array(bandCount * stepCount);
  const from = new Int32Array(bandCount);
  const to = new Int32Array(bandCount);
  let contrast = 0;
  const profile = { bandCount, stepCount, centreIndex: reach, values, from, to };
  for (let band = 0; band < bandCount; band++) {
    for (let index = 0; index < stepCount; index++) {
      const at = Math.min(patch.stepCount - 1, Math.max(0, centreIndex - reach + index));
      values[band * stepCount + index] = patch.values[band * patch.stepCount + at]!;
    }
    contrast += flattenBand(profile, band) / bandCount;
  }
  const size = bandCount * stepCount;
  const blurred = new Float32Array(size * PROFILE_BLURS.length);
  const slopes = new Float32Array(blurred.length);
  for (let level = 0; level < PROFILE_BLURS.length; level++) {
    for (let band = 0; band < bandCount; band++) {
      const at = level * size + band * stepCount;
      const row = blurred.subarray(at, at + stepCount);
      const columnPx = grid.bandRadiusPx[band]! * grid.stepRad;
      blurInto(row, values.subarray(band * stepCount, (band + 1) * stepCount), PROFILE_BLURS[level]! / columnPx ** 2);
      for (let index = 1; index < stepCount - 1; index++) slopes[at + index] = (row[index + 1]! - row[index - 1]!) / 2;
    }
  }
  return { ...profile, values: blurred, slopes, contrast };
}

/** A row seen through a Gaussian of a variance in columns squared; beyond its ends it goes on as it ends. */
function blurInto(into: Float32Array, row: Float32Array, variance: number): void {
  const reach = Math.ceil(3 * Math.sqrt(variance));
  const weights = Float64Array.from({ length: reach + 1 }, (_, apart) =>
    apart === 0 ? 1 : Math.exp((-apart * apart) / (2 * variance)),
  );
  const whole = 2 * weights.reduce((sum, weight) => sum + weight, 0) - 1;
  const last = row.length - 1;
  for (let index = 0; index <= last; index++) {
    let sum = row[index]!;
    for (let apart = 1; apart <= reach; apart++)
      sum += weights[apart]! * (row[Math.max(0, index - apart)]! + row[Math.min(last, index + apart)]!);
    into[index] = sum / whole;
  }
}

/** Takes off the dial's own level beside the needle and marks the columns that the needle covers; returns its contrast. */
function flattenBand(
  profile: {
    readonly stepCount: number;
    readonly centreIndex: number;
    readonly values: Float32Array;
    readonly from: Int32Array;
    readonly to: Int32Array;
  },
  band: number,
): number {
  const { stepCount, centreIndex, values, from, to } = profile;
  const row = values.subarray(band * stepCount, (band + 1) * stepCount);
  const level = Float32Array.from(row).sort()[stepCount >> 1]!;
  const contrast = (row[centreIndex - 1]! + row[centreIndex]! + row[centreIndex + 1]!) / 3 - level;
  const small = 0.1 * Math.abs(contrast);
  let first = centreIndex;
  while (first > 1 && Math.abs(row[first]! - level) > small) first--;
  let last = centreIndex;
  while (last < stepCount - 2 && Math.abs(row[last]! - level) > small) last++;
  const margin = Math.max(5, Math.round(0.35 * (last - first)));
  from[band] = Math.max(2, first - margin);
  to[band] = Math.min(stepCount - 4, last + margin);
  for (let index = 0; index < stepCount; index++) row[index]! -= level;
  return contrast;
}

/** Height of the edges between which the axis lies: above half, since beside a dark needle its shadow reaches nearly so far. */
const AXIS_HEIGHT = 0.72;
/** Heights at which a shadow, or print beside the needle, draws the middle to its side differently. */
const SKEW_HEIGHTS = [0.5, 0.88] as const;

/** How far the middles between the needle's edges at two heights lie apart in the mean of the bands, columns. */
export function axisSkew(profile: NeedleProfile, shown: readonly boolean[]): number {
  const [low, high] = SKEW_HEIGHTS.map((height) => axisColumns(profile, height));
  const apart = low!.map((column, band) => (shown[band] ? column - high![band]! : Number.NaN)).filter(Number.isFinite);
  return apart.reduce((sum, skew) => sum + skew, 0) / Math.max(1, apart.length);
}

/** The place of the needle's axis in each band as the middle between its two edges, in columns. */
export function axisColumns(profile: NeedleProfile, height = AXIS_HEIGHT): Float64Array {
  const { bandCount, stepCount, centreIndex, values } = profile;
  return Float64Array.from({ length: bandCount }, (_, band) => {
    const row = values.subarray(band * stepCount, (band + 1) * stepCount);
    const sign = Math.sign(profile.contrast);
    let peak = 0;
    for (let index = Math.max(0, centreIndex - 4); index <= Math.min(stepCount - 1, centreIndex + 4); index++)
      peak = Math.max(peak, sign * row[index]!);
    const half = height * peak;
    let left = centreIndex;
    while (left > 0 && sign * row[left]! > half) left--;
    let right = centreIndex;
    while (right < stepCount - 1 && sign * row[right]! > half) right++;
    const leftPart = (half - sign * row[left]!) / (sign * (row[left + 1]! - row[left]!));
    const rightPart = (half - sign * row[right]!) / (sign * (row[right - 1]! - row[right]!));
    return (left + leftPart + right - rightPart) / 2;
  });
}
