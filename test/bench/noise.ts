import { fourierTransform, powerOfTwoAtLeast } from "./fourier.js";
import type { RandomStream } from "./random.js";

/** Gaussian noise of the bench: independent parts that add up, each with an exact covariance. */
export interface NoiseParts {
  /** Standard deviation of the white part. */
  readonly whiteV: number;
  /** Standard deviation and correlation time of the exponentially correlated part, AR(1) when sampled evenly. */
  readonly colouredV: number;
  readonly colouredTimeS: number;
  /** Amplitude density of the 1/f part at 1 Hz, one-sided; even sampling only. */
  readonly flickerVPerRtHz: number;
  /** Random walk of the level. */
  readonly walkVPerRtS: number;
}

export const NO_NOISE: NoiseParts = {
  whiteV: 0,
  colouredV: 0,
  colouredTimeS: 0.6,
  flickerVPerRtHz: 0,
  walkVPerRtS: 0,
};

/** One realization at the given times; `gain` scales the white and coloured parts reading by reading. */
export function drawNoise(
  parts: NoiseParts,
  timesS: Float64Array,
  gain: Float64Array | null,
  random: RandomStream,
): Float64Array {
  const n = timesS.length;
  const noise = new Float64Array(n);
  let coloured = 0;
  let walk = 0;
  for (let i = 0; i < n; i++) {
    const stepS = i === 0 ? Number.POSITIVE_INFINITY : timesS[i] - timesS[i - 1];
    const kept = Math.exp(-stepS / parts.colouredTimeS);
    coloured = kept * coloured + Math.sqrt(1 - kept * kept) * random.normal();
    if (i > 0) walk += parts.walkVPerRtS * Math.sqrt(stepS) * random.normal();
    const scale = gain === null ? 1 : gain[i];
    noise[i] = scale * (parts.whiteV * random.normal() + parts.colouredV * coloured) + walk;
  }
  if (parts.flickerVPerRtHz > 0) addFlicker(noise, parts.flickerVPerRtHz, evenIntervalS(timesS), random);
  return noise;
}

/**
 * Autocovariance of the stationary parts at the given lag, the white part only at lag zero.
 *
 * The 1/f part is the one that `drawNoise` draws for `sampleCount` readings: the same finite sum of lines.
 */
export function stationaryCovariance(
  parts: NoiseParts,
  intervalS: number,
  sampleCount: number,
): { readonly white: Float64Array; readonly coloured: Float64Array; readonly flicker: Float64Array } {
  const white = new Float64Array(sampleCount);
  white[0] = parts.whiteV ** 2;
  const coloured = new Float64Array(sampleCount);
  for (let k = 0; k < sampleCount; k++) coloured[k] = colouredCovariance(parts, k * intervalS);
  return { white, coloured, flicker: flickerCovariance(parts, intervalS, sampleCount) };
}

export function colouredCovariance(parts: NoiseParts, lagS: number): number {
  return parts.colouredV ** 2 * Math.exp(-Math.abs(lagS) / parts.colouredTimeS);
}

/** Lines of the 1/f part: even frequencies below half the sampling rate, none at zero. */
function flickerLines(sampleCount: number, intervalS: number): { readonly size: number; readonly spacingHz: number } {
  const size = powerOfTwoAtLeast(2 * sampleCount);
  return { size, spacingHz: 1 / (size * intervalS) };
}

function addFlicker(noise: Float64Array, amplitude: number, intervalS: number, random: RandomStream): void {
  const { size, spacingHz } = flickerLines(noise.length, intervalS);
  const real = new Float64Array(size);
  const imaginary = new Float64Array(size);
  for (let j = 1; j < size / 2; j++) {
    const line = amplitude * Math.sqrt(spacingHz / (j * spacingHz));
    real[j] = line * random.normal();
    imaginary[j] = line * random.normal();
  }
  fourierTransform(real, imaginary);
  for (let i = 0; i < noise.length; i++) noise[i] += real[i];
}

function flickerCovariance(parts: NoiseParts, intervalS: number, sampleCount: number): Float64Array {
  if (parts.flickerVPerRtHz === 0) return new Float64Array(sampleCount);
  const { size, spacingHz } = flickerLines(sampleCount, intervalS);
  const real = new Float64Array(size);
  for (let j = 1; j < size / 2; j++) real[j] = parts.flickerVPerRtHz ** 2 * (spacingHz / (j * spacingHz));
  fourierTransform(real, new Float64Array(size));
  return real.slice(0, sampleCount);
}

function evenIntervalS(timesS: Float64Array): number {
  const intervalS = (timesS[timesS.length - 1] - timesS[0]) / (timesS.length - 1);
  for (let i = 1; i < timesS.length; i++) {
    if (Math.abs(timesS[i] - timesS[i - 1] - intervalS) > 1e-6 * intervalS) {
      throw new RangeError(`Cannot draw 1/f noise: the readings must be evenly spaced, reading ${i} is not`);
    }
  }
  return intervalS;
}
