import { firstAtOrAfter, type OnTime } from "../detection/switching-template.js";
import type { LoadKind } from "../profile.js";
import type { CurrentSeries } from "../series/recording.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";

/** Part of each on-time that is left out beside its edges. */
const EDGE = 0.1;
/** Time constants that are tried, as shares of the mean on-time: from a fast lamp to one that hardly settles. */
const SHARES = Array.from({ length: 61 }, (_, k) => 0.06 * power(1.06, k));
/** More readings than this in an on-time are taken in blocks. */
const MOST_READINGS = 200;
const FEWEST_READINGS = 6;
/** Natural logarithm of a heater's settling time, seconds, as for the shape of a dip. Common practice, no source. */
const HEATER_LOG_S = { mean: logarithm(2.5), sd: 0.5 } as const;
/** What a load draws more at first, as a share of its settled current; less where it is still warm. Common practice, no source. */
const INRUSH = { mean: 0.4, sd: 0.4 } as const;
/** How likely it is beforehand that nothing settles that long after switching on. Common practice, no source. */
const STEADY = { heater: 0, untold: 0.5, other: 0.9 } as const;

/** By how much each on-time's mean current over a part of it lies above the current that the load settles to. */
export interface SettlingExcess {
  /** Amperes, one for each on-time; what is taken off that on-time's mean. */
  readonly excessA: readonly number[];
  /** Standard uncertainty of their mean, amperes. */
  readonly uA: number;
}

/** The part of an on-time over which its mean current was taken, and the current of the load, roughly. */
export interface HeldPart {
  readonly from: number;
  readonly to: number;
  readonly changeA: number;
}

/**
 * How a measured current still settles during the on-times; null where they are too short to tell, or nothing scatters.
 *
 * Each on-time has its own level and inrush, all have one time constant. What is expected of loads of this kind counts as
 * one more reading of each inrush; time constants, and that nothing settles, count by how likely the readings are under
 * them, so that what the readings leave open is neither taken for nothing nor for its best fit. Source: weights of models
 * after their marginal likelihood, e.g. Kass & Raftery 1995, J. Am. Stat. Assoc. 90, 773 (from memory).
 */
export function settlingExcess(
  current: CurrentSeries,
  onTimes: readonly OnTime[],
  { from, to, changeA }: HeldPart,
  kind: LoadKind | null,
): SettlingExcess | null {
  const stretches = onTimes.map((onTime) => stretchOf(current, onTime));
  if (stretches.some(({ sinceS }) => sinceS.length < FEWEST_READINGS)) return null;
  const count = stretches.reduce((sum, { sinceS }) => sum + sinceS.length, 0);
  const meanS = stretches.reduce((sum, { durationS }) => sum + durationS, 0) / stretches.length;
  const constants = SHARES.map((share) => share * meanS);
  const fits = constants.map((constantS) => stretches.map((one) => settled(one, constantS)));
  const squaresOf = (of: readonly SettledFit[]) => of.reduce((sum, { squares }) => sum + squares, 0);
  const variance = Math.min(...fits.map(squaresOf)) / (count - 2 * stretches.length - 1);
  if (!(variance > 0)) return null;

  const expectations = { meanA: INRUSH.mean * changeA, varianceA2: squared(INRUSH.sd * changeA) };
  const steady = kind === null ? STEADY.untold : kind === "heater" ? STEADY.heater : STEADY.other;
  const priors = constants.map((constantS) =>
    kind === "heater" ? -squared((logarithm(constantS) - HEATER_LOG_S.mean) / HEATER_LOG_S.sd) / 2 : 0,
  );
  const priorTotal = priors.reduce((sum, one) => sum + exponential(one), 0);
  const stories: Story[] = constants.map((constantS, c) => {
    const told = fits[c].map((fit) => inrushOf(fit, variance, expectations));
    const decays = stretches.map(({ durationS }) => meanDecay(durationS, constantS, from, to));
    return {
      logWeight:
        logarithm((1 - steady) / priorTotal) +
        priors[c] -
        squaresOf(fits[c]) / (2 * variance) +
        told.reduce((sum, { logWeight }) => sum + logWeight, 0),
      excessA: told.map(({ valueA }, k) => valueA * decays[k]),
      varianceA2: told.reduce((sum, one, k) => sum + one.varianceA2 * squared(decays[k]), 0),
    };
  });
  if (steady > 0) {
    const plain = stretches.reduce((sum, one) => sum + settled(one, Number.POSITIVE_INFINITY).squares, 0);
    stories.push({
      logWeight: logarithm(steady) - plain / (2 * variance),
      excessA: stretches.map(() => 0),
      varianceA2: 0,
    });
  }
  return mean(stories, stretches.length);
}

/** The excesses under one time constant, or under none. */
interface Story {
  readonly logWeight: number;
  readonly excessA: readonly number[];
  /** Of their sum. */
  readonly varianceA2: number;
}

function mean(stories: readonly Story[], stretchCount: number): SettlingExcess {
  const most = Math.max(...stories.map(({ logWeight }) => logWeight));
  const weights = stories.map(({ logWeight }) => exponential(logWeight - most));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const over = (of: (story: Story) => number) =>
    stories.reduce((sum, story, s) => sum + weights[s] * of(story), 0) / total;
  const sumOf = ({ excessA }: Story) => excessA.reduce((sum, a) => sum + a, 0);
  const meanSum = over(sumOf);
  const variance = over((story) => story.varianceA2 + squared(sumOf(story) - meanSum));
  return {
    excessA: Array.from({ length: stretchCount }, (_, k) => over(({ excessA }) => excessA[k])),
    uA: Math.sqrt(variance) / stretchCount,
  };
}

/** Inrush of one on-time by its readings and what is expected, and the logarithm of how well both agree. */
function inrushOf(
  { inrushA, along }: SettledFit,
  variance: number,
  expected: { readonly meanA: number; readonly varianceA2: number },
) {
  // Readings of one stamp show no decay: nothing but the expectation.
  if (along === 0) return { valueA: expected.meanA, varianceA2: expected.varianceA2, logWeight: 0 };
  const byReadings = variance / along;
  const both = expected.varianceA2 + byReadings;
  const share = expected.varianceA2 / both;
  return {
    valueA: expected.meanA + share * (inrushA - expected.meanA),
    varianceA2: share * byReadings,
    logWeight: -squared(inrushA - expected.meanA) / (2 * both) - logarithm(both / byReadings) / 2,
  };
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
  const meanAt = (series: Float64Array, at: number) =>
    series.subarray(at, at + blockSize).reduce((sum, value) => sum + value, 0) / blockSize;
  return {
    durationS,
    sinceS: blocks.map((at) => meanAt(timesS, at) - onsetS),
    currentsA: blocks.map((at) => meanAt(currentsA, at)),
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
