import type { NeedlePatch } from "./needle-patch.js";
import { type NeedleProfile, PROFILE_BLURS } from "./needle-profile.js";

const LONGEST_WINDOW = 512;
/** Samples of the band that was loaded last: data, profile, its slope, its blurring. */
export const samples = Array.from({ length: 4 }, () => new Float64Array(LONGEST_WINDOW));
/** The slope that each of these had, per step. */
export const sampleSlopes = new Float64Array(4);

export interface BandWindow {
  readonly count: number;
  /** Column of the profile, with its fraction, at which the first sample lies. */
  readonly start: number;
}

/**
 * Loads the samples of a band whose needle lies at column `centre` of the patch, seen through a blur, and takes level and
 * slope of the light off each; null where the needle leaves the patch. A slope of the light that is known is taken off the
 * data alone.
 */
export function loadBand(
  patch: NeedlePatch,
  profile: NeedleProfile,
  band: number,
  centre: number,
  blur: number,
  lightSlope?: number,
): BandWindow | null {
  const first = Math.ceil(centre - profile.centreIndex + profile.from[band]!);
  const last = Math.floor(centre - profile.centreIndex + profile.to[band]!);
  if (first < 0 || last >= patch.stepCount || last - first < 5 || last - first >= LONGEST_WINDOW) return null;
  const window = { count: last - first + 1, start: first - centre + profile.centreIndex };
  sampleBand(patch, profile, band, first, window, blur);
  if (Number.isNaN(samples[0]![0]!) || Number.isNaN(samples[0]![window.count - 1]!)) return null;
  detrend(window.count, lightSlope);
  return window;
}

function sampleBand(
  patch: NeedlePatch,
  profile: NeedleProfile,
  band: number,
  first: number,
  { count, start }: BandWindow,
  blur: number,
): void {
  const [data, value, slope, blurring] = samples as [Float64Array, Float64Array, Float64Array, Float64Array];
  let level = 0;
  while (level < PROFILE_BLURS.length - 2 && blur > PROFILE_BLURS[level + 1]!) level++;
  const width = PROFILE_BLURS[level + 1]! - PROFILE_BLURS[level]!;
  const part = (blur - PROFILE_BLURS[level]!) / width;
  const size = profile.bandCount * profile.stepCount;
  const whole = Math.floor(start);
  const t = start - whole;
  const [w0, w1, w2, w3] = catmullRom(t);
  const { values, slopes } = profile;
  for (let index = 0; index < count; index++) {
    const at = level * size + band * profile.stepCount + whole + index;
    const to = at + size;
    data[index] = patch.values[band * patch.stepCount + first + index]!;
    const near = w0 * values[at - 1]! + w1 * values[at]! + w2 * values[at + 1]! + w3 * values[at + 2]!;
    const far = w0 * values[to - 1]! + w1 * values[to]! + w2 * values[to + 1]! + w3 * values[to + 2]!;
    value[index] = near + part * (far - near);
    slope[index] =
      (1 - part) * ((1 - t) * slopes[at]! + t * slopes[at + 1]!) + part * ((1 - t) * slopes[to]! + t * slopes[to + 1]!);
    blurring[index] = (far - near) / width;
  }
}

function detrend(count: number, lightSlope: number | undefined): void {
  const middle = (count - 1) / 2;
  let spread = 0;
  for (let index = 0; index < count; index++) spread += (index - middle) ** 2;
  samples.forEach((series, which) => {
    let mean = 0;
    let tilt = 0;
    for (let index = 0; index < count; index++) {
      mean += series[index]!;
      tilt += series[index]! * (index - middle);
    }
    mean /= count;
    tilt /= spread;
    sampleSlopes[which] = tilt;
    const taken = lightSlope === undefined ? tilt : which === 0 ? lightSlope : 0;
    for (let index = 0; index < count; index++) series[index]! -= mean + taken * (index - middle);
  });
}

/** Weights of the four neighbours in cubic interpolation at fraction `t` between the second and third. */
export function catmullRom(t: number): readonly [number, number, number, number] {
  return [
    ((2 - t) * t - 1) * t * 0.5,
    ((3 * t - 5) * t * t + 2) * 0.5,
    ((4 - 3 * t) * t + 1) * t * 0.5,
    (t - 1) * t * t * 0.5,
  ];
}
