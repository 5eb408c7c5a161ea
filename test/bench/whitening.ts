import { whitenToeplitz } from "./linear.js";
import { colouredCovariance, type NoiseParts, stationaryCovariance } from "./noise.js";
import type { SimulatedRecording } from "./simulate.js";

/**
 * Columns divided by the noise: after it, the recording's true noise would be white with variance one.
 *
 * Exact for every cell without 1/f noise at any sampling (Kalman recursion over the correlated part and the walk);
 * exact for even sampling with 1/f noise (Durbin recursion). Rounding counts as `quantum^2 / 12` where the noise is
 * at least half a digit; see `displayInformation` for coarse displays. A known outlier counts as a very bad reading.
 */
export function whitenByTruth(recording: WhitenedBy, columns: readonly Float64Array[]): Float64Array[] {
  const { truth, timesS } = recording;
  if (truth.parts.flickerVPerRtHz > 0) return whitenToeplitz(evenCovariance(recording, timesS.length), columns);
  return whitenMarkov(recording, columns).white;
}

/** Division by white, exponentially correlated and random-walk noise, and the covariance's log-determinant. */
export interface MarkovWhitening {
  readonly white: Float64Array[];
  readonly logDeterminant: number;
}

export type WhitenedBy = Pick<SimulatedRecording, "timesS" | "truth">;

/** Autocovariance of an evenly sampled recording's stationary noise, rounding included. */
export function evenCovariance({ truth, timesS }: WhitenedBy, lagCount: number): Float64Array {
  if (truth.intervalS === null) throw new RangeError("Cannot give an autocovariance: the readings are not even");
  const { white, coloured, flicker } = stationaryCovariance(truth.parts, truth.intervalS, timesS.length);
  const total = white.map((value, k) => value + coloured[k] + flicker[k]).slice(0, lagCount);
  total[0] += truth.quantumV ** 2 / 12;
  return total;
}

/** Covariance of all readings, written out; slow, the oracle of the recursions. */
export function denseCovariance({ timesS, truth }: WhitenedBy): Float64Array[] {
  const { parts, gain } = truth;
  const flicker = truth.intervalS === null ? null : stationaryCovariance(parts, truth.intervalS, timesS.length).flicker;
  const scale = (i: number) => (gain === null ? 1 : gain[i]);
  return Array.from(timesS, (timeS, i) =>
    timesS.map((otherS, j) => {
      const both = scale(i) * scale(j) * colouredCovariance(parts, timeS - otherS);
      const walk = parts.walkVPerRtS ** 2 * (Math.min(timeS, otherS) - timesS[0]);
      const slow = flicker === null ? 0 : flicker[Math.abs(i - j)];
      return both + walk + slow + (i === j ? scale(i) ** 2 * whiteVariance(truth, parts, i) : 0);
    }),
  );
}

function whiteVariance(truth: WhitenedBy["truth"], parts: NoiseParts, i: number): number {
  const scale = truth.gain === null ? 1 : truth.gain[i];
  return parts.whiteV ** 2 + (truth.quantumV ** 2 / 12 + truth.isOutlier[i] * truth.outlierV ** 2) / scale ** 2;
}

export function whitenMarkov({ timesS, truth }: WhitenedBy, columns: readonly Float64Array[]): MarkovWhitening {
  const { parts, gain } = truth;
  const n = timesS.length;
  const white = columns.map(() => new Float64Array(n));
  const coloured = new Float64Array(columns.length);
  const walk = new Float64Array(columns.length);
  let pcc = parts.colouredV ** 2;
  let pcw = 0;
  let pww = 0;
  let logDeterminant = 0;
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      const stepS = timesS[i] - timesS[i - 1];
      const kept = Math.exp(-stepS / parts.colouredTimeS);
      pcc = kept * kept * pcc + (1 - kept * kept) * parts.colouredV ** 2;
      pcw *= kept;
      pww += parts.walkVPerRtS ** 2 * stepS;
      for (let c = 0; c < columns.length; c++) coloured[c] *= kept;
    }
    const scale = gain === null ? 1 : gain[i];
    const toColoured = scale * pcc + pcw;
    const toWalk = scale * pcw + pww;
    const variance = scale * toColoured + toWalk + scale * scale * whiteVariance(truth, parts, i);
    const root = Math.sqrt(variance);
    logDeterminant += Math.log(variance);
    for (let c = 0; c < columns.length; c++) {
      const error = columns[c][i] - scale * coloured[c] - walk[c];
      white[c][i] = error / root;
      coloured[c] += (toColoured / variance) * error;
      walk[c] += (toWalk / variance) * error;
    }
    pcc -= toColoured ** 2 / variance;
    pcw -= (toColoured * toWalk) / variance;
    pww -= toWalk ** 2 / variance;
  }
  return { white, logDeterminant };
}
