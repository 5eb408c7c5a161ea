import { complementaryErrorFunction } from "../statistics/error-function.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import type { NoiseParameters } from "./noise-parameters.js";
import type { SampledTimes } from "./whitening.js";

/** Readings as a display rounded them. */
export interface RoundedReadings {
  readonly sampled: SampledTimes;
  /** What the display showed, volts from any fixed level. */
  readonly shownV: Float64Array;
  /** Step of the display, volts: a reading r stands for a voltage between r - step / 2 and r + step / 2. */
  readonly stepV: number;
  /** What other loads add to the voltage, volts. */
  readonly othersV: Float64Array;
}

/** How little is known of level and slope before the first reading: volts and volts per second. */
const LEVEL_SPREAD_V = 1;
const SLOPE_SPREAD_V_PER_S = 0.02;

/**
 * Logarithm of the probability that the display shows just these digits, for a dip of `depthV` times `template`.
 *
 * A Kalman filter over coloured noise, level and slope in which each reading cuts the distribution of the voltage to its
 * digit; the cut distribution is taken for the normal one of the same mean and variance. Exact as the step vanishes; see
 * the tests for how it does at a large one. Cost O(n).
 *
 * Source: interval likelihood as in Gjeddebaek 1949, Skandinavisk Aktuarietidskrift 32; moment matching as in Maybeck
 * 1982, Stochastic Models, Estimation and Control, volume 2 (both from memory).
 */
export function roundedLogLikelihood(
  readings: RoundedReadings,
  template: Float64Array,
  depthV: number,
  noise: NoiseParameters,
): number {
  const { sampled, shownV, othersV, stepV } = readings;
  const { timesS } = sampled;
  const white = squared(noise.whiteV);
  const coloured = squared(noise.colouredV);
  const walk = squared(noise.walkVPerSqrtS);
  const bend = squared(noise.bendVPerS15);
  let a = 0;
  let l = 0;
  let s = 0;
  let paa = coloured;
  let pal = 0;
  let pas = 0;
  let pll = squared(LEVEL_SPREAD_V + stepV);
  let pls = 0;
  let pss = squared(SLOPE_SPREAD_V_PER_S);
  let logLikelihood = 0;
  let previousDt = -1;
  let decay = 1;
  let colouredStep = 0;
  for (let i = 0; i < timesS.length; i++) {
    if (i > 0) {
      const dt = timesS[i] - timesS[i - 1];
      if (dt !== previousDt) {
        decay = exponential(-dt / noise.colouredTimeS);
        colouredStep = coloured * (1 - decay * decay);
        previousDt = dt;
      }
      pll += dt * (2 * pls + dt * pss) + walk * dt + (bend * dt * dt * dt) / 3;
      pls += dt * pss + (bend * dt * dt) / 2;
      pss += bend * dt;
      pal = decay * (pal + dt * pas);
      pas *= decay;
      paa = decay * decay * paa + colouredStep;
      l += dt * s;
      a *= decay;
    }
    const ga = paa + pal;
    const gl = pal + pll;
    const gs = pas + pls;
    const variance = ga + gl + white;
    const sd = Math.sqrt(variance);
    const off = shownV[i] - othersV[i] - template[i] * depthV - a - l;
    cutNormal((off - stepV / 2) / sd, (off + stepV / 2) / sd);
    logLikelihood += cut.logMass;
    const gain = (cut.mean * sd) / variance;
    const kept = (1 - cut.variance) / variance;
    a += ga * gain;
    l += gl * gain;
    s += gs * gain;
    paa -= ga * ga * kept;
    pal -= ga * gl * kept;
    pas -= ga * gs * kept;
    pll -= gl * gl * kept;
    pls -= gl * gs * kept;
    pss -= gs * gs * kept;
  }
  return logLikelihood;
}

/** A standard normal distribution cut to an interval: logarithm of its mass, mean, variance. Written by `cutNormal`. */
const cut = { logMass: 0, mean: 0, variance: 0 };

const ROOT_HALF = Math.SQRT1_2;
const LOG_ROOT_2PI = 0.5 * logarithm(2 * Math.PI);
/** Beyond so many standard deviations the cut distribution is an exponential one at the nearer bound. */
const FAR = 25;

function cutNormal(from: number, to: number): void {
  // Work in the lower tail, where differences keep their digits.
  const mirrored = from + to > 0;
  const low = mirrored ? -to : from;
  const high = mirrored ? -from : to;
  if (high < -FAR) {
    cut.logMass = -0.5 * high * high - LOG_ROOT_2PI - logarithm(-high);
    const mean = high + 1 / high;
    cut.mean = mirrored ? -mean : mean;
    cut.variance = 1 / (high * high);
    return;
  }
  const mass = 0.5 * (complementaryErrorFunction(-high * ROOT_HALF) - complementaryErrorFunction(-low * ROOT_HALF));
  const atLow = exponential(-0.5 * low * low - LOG_ROOT_2PI);
  const atHigh = exponential(-0.5 * high * high - LOG_ROOT_2PI);
  const mean = (atLow - atHigh) / mass;
  cut.logMass = logarithm(mass);
  cut.mean = mirrored ? -mean : mean;
  cut.variance = Math.max(1 + (low * atLow - high * atHigh) / mass - mean * mean, 0);
}
