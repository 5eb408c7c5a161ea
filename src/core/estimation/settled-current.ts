import { firstAtOrAfter, type OnTime } from "../detection/switching-template.js";
import type { CurrentSeries } from "../series/recording.js";
import { exponential } from "../statistics/portable-exponential.js";
import { power, rootSumSquares, squared } from "../statistics/portable-power.js";

/** Part of each on-time that is left out beside its edges. */
const EDGE = 0.1;
/** Time constants that are tried, as shares of the mean on-time: from a fast lamp to one that hardly settles. */
const SHARES = Array.from({ length: 26 }, (_, k) => 0.06 * power(1.15, k));
/** Around the best of them, to well below what the readings tell apart. */
const FINE = Array.from({ length: 31 }, (_, k) => power(1.01, k - 15));
/** More readings than this in an on-time are taken in blocks. */
const MOST_READINGS = 200;
/** By how many residual variances settling must better the sum of squares: 0.1 % for two parameters. */
const SHOWS = 13.8;
/** Within how many of the least sum a time constant stays likely: 95 % for one parameter. */
const LIKELY = 3.84;
const FEWEST_READINGS = 6;

/** By how much each on-time's mean current over a part of it lies above the current that the load settles to. */
export interface SettlingExcess {
  /** Amperes, one for each on-time; what is taken off that on-time's mean. */
  readonly excessA: readonly number[];
  /** Standard uncertainty of their mean, amperes: from the time constant, and from the noise that an extrapolation enlarges. */
  readonly uA: number;
}

/**
 * How a measured current still settles during the on-times; null where it does not show.
 *
 * Level and settling of each on-time are fitted for a common time constant. `from` and `to` are the shares of an on-time
 * between which its mean current was taken. Source: Golub & Pereyra 1973 (variable projection, from memory).
 */
export function settlingExcess(
  current: CurrentSeries,
  onTimes: readonly OnTime[],
  { from, to }: { readonly from: number; readonly to: number },
): SettlingExcess | null {
  const stretches = onTimes.map((onTime) => stretchOf(current, onTime));
  if (stretches.some(({ sinceS }) => sinceS.length < FEWEST_READINGS)) return null;
  const count = stretches.reduce((sum, { sinceS }) => sum + sinceS.length, 0);
  const meanS = stretches.reduce((sum, { durationS }) => sum + durationS, 0) / stretches.length;
  const plain = stretches.reduce((sum, one) => sum + settled(one, Number.POSITIVE_INFINITY).squares, 0);
  const tryShare = (share: number): Tried => {
    const fits = stretches.map((one) => settled(one, share * meanS));
    const excessA = fits.map((fit, k) => fit.inrushA * meanDecay(stretches[k].durationS, share * meanS, from, to));
    const perVariance = fits.reduce(
      (sum, { along }, k) => sum + squared(meanDecay(stretches[k].durationS, share * meanS, from, to)) / along,
      0,
    );
    return { share, squares: fits.reduce((sum, fit) => sum + fit.squares, 0), excessA, perVariance };
  };
  const rough = SHARES.map(tryShare);
  const least = (a: Tried, b: Tried) => (b.squares < a.squares ? b : a);
  const tried = [...rough, ...FINE.map((factor) => tryShare(factor * rough.reduce(least).share))];
  const best = tried.reduce(least);
  const variance = best.squares / (count - 2 * stretches.length - 1);
  if (!(variance > 0) || plain - best.squares < SHOWS * stretches.length * variance) return null;
  const likely = tried.filter(({ squares }) => squares <= best.squares + LIKELY * variance);
  const means = likely.map(({ excessA }) => excessA.reduce((sum, a) => sum + a, 0) / excessA.length);
  const byConstantA = (Math.max(...means) - Math.min(...means)) / (2 * Math.sqrt(LIKELY));
  const byNoiseA = Math.sqrt(best.perVariance * variance) / stretches.length;
  return { excessA: best.excessA, uA: rootSumSquares(byConstantA, byNoiseA) };
}

interface Tried {
  readonly share: number;
  readonly squares: number;
  readonly excessA: readonly number[];
  /** Variance of the excesses' sum for a variance of one of a reading. */
  readonly perVariance: number;
}

interface Stretch {
  readonly durationS: number;
  readonly sinceS: readonly number[];
  readonly currentsA: readonly number[];
}

function stretchOf({ timesS, currentsA }: CurrentSeries, { onsetS, releaseS }: OnTime): Stretch {
  const durationS = releaseS - onsetS;
  const start = firstAtOrAfter(timesS, onsetS + EDGE * durationS);
  const end = firstAtOrAfter(timesS, releaseS - EDGE * durationS);
  const blockSize = Math.max(1, Math.ceil((end - start) / MOST_READINGS));
  const blocks = Array.from({ length: Math.floor((end - start) / blockSize) }, (_, k) => start + k * blockSize);
  const mean = (series: Float64Array, at: number) =>
    series.subarray(at, at + blockSize).reduce((sum, value) => sum + value, 0) / blockSize;
  return {
    durationS,
    sinceS: blocks.map((at) => mean(timesS, at) - onsetS),
    currentsA: blocks.map((at) => mean(currentsA, at)),
  };
}

/** Least squares of a level and, for a finite time constant, of an exponential that dies away from the onset. */
function settled({ sinceS, currentsA }: Stretch, constantS: number): SettledFit {
  const n = sinceS.length;
  const decays = sinceS.map((t) => exponential(-t / constantS));
  const meanDecayed = decays.reduce((sum, d) => sum + d, 0) / n;
  const meanA = currentsA.reduce((sum, a) => sum + a, 0) / n;
  let across = 0;
  let along = 0;
  let total = 0;
  for (let i = 0; i < n; i++) {
    across += (decays[i] - meanDecayed) * (currentsA[i] - meanA);
    along += squared(decays[i] - meanDecayed);
    total += squared(currentsA[i] - meanA);
  }
  const inrushA = along > 0 ? across / along : 0;
  return { inrushA, along, squares: total - inrushA * across };
}

interface SettledFit {
  readonly inrushA: number;
  /** Sum of squares of the decay about its mean: what tells the inrush. */
  readonly along: number;
  readonly squares: number;
}

/** Mean of the dying exponential between two shares of an on-time. */
function meanDecay(durationS: number, constantS: number, from: number, to: number): number {
  const shares = constantS / ((to - from) * durationS);
  return shares * (exponential((-from * durationS) / constantS) - exponential((-to * durationS) / constantS));
}
