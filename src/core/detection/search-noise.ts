import type { NoiseParameters } from "../noise/noise-parameters.js";
import { posteriorNodes } from "../noise/posterior-nodes.js";
import {
  type ExplainedReadings,
  fitNoise,
  likeliestNoise,
  type NoiseFit,
  type NoisePrior,
  priorPenalty,
  restrictedObjective,
  weakNoisePrior,
} from "../noise/restricted-likelihood.js";
import type { WorkingSeries } from "../series/working-series.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import { dipTemplate, type OnTime, plainShape } from "./switching-template.js";

/** Up to this length the noise of a recording is fitted in one piece, beside the dips. */
const ONE_PIECE_S = 160;

/** Whether the noise must be told from the dips by the same few readings. */
export function isShort(design: ReadingsDesign): boolean {
  const { timesS } = design.series;
  return timesS[timesS.length - 1] - timesS[0] <= ONE_PIECE_S;
}

/** The same knowledge with a level that hardly wanders: dips cannot hide in it. */
function stiffened(prior: NoisePrior): NoisePrior {
  const meanLogs = Float64Array.from(prior.meanLogs);
  const sdLogs = Float64Array.from(prior.sdLogs);
  meanLogs[1] += logarithm(0.6);
  meanLogs[3] += logarithm(0.15);
  meanLogs[4] += logarithm(0.3);
  sdLogs[1] = 0.5;
  sdLogs[2] = 0.3;
  sdLogs[3] = 0.3;
  sdLogs[4] = 0.3;
  return { meanLogs, sdLogs };
}

/** The readings of a half-open range of indices. */
export function partOf(series: WorkingSeries, start: number, end: number): WorkingSeries {
  return {
    ...series,
    timesS: series.timesS.subarray(start, end),
    valuesV: series.valuesV.subarray(start, end),
    readingCounts: series.readingCounts.subarray(start, end),
    noiseFactors: series.noiseFactors?.subarray(start, end) ?? null,
  };
}

/** Noise of a recording, and the stretches that it was taken from. */
export interface SearchNoise {
  readonly noise: NoiseParameters;
  readonly stretches: readonly { readonly startS: number; readonly endS: number }[];
  /** Stretches that had no part in it, since the others suited them badly. */
  readonly leftOut: readonly { readonly startS: number; readonly endS: number }[];
}

/** Whether on-times reach into any of the stretches. */
export function reaches(stretches: SearchNoise["stretches"], onTimes: readonly OnTime[]): boolean {
  return stretches.some(({ startS, endS }) =>
    onTimes.some(({ onsetS, releaseS }) => onsetS < endS && releaseS > startS),
  );
}

/**
 * Noise of the whole recording beside the known dips. Short recordings are fitted whole, long ones by several stretches
 * together, long enough to tell slow wander from dips. Stretches that the median of the single fits suits badly are left
 * out, so that a few unknown dips do not matter.
 */
export function searchNoise(
  design: ReadingsDesign,
  templates: readonly Float64Array[],
  guess: NoiseGuess = "likeliest",
): SearchNoise {
  const weak = weakNoisePrior(design.scatterV, design.intervalS);
  if (!isShort(design)) {
    return noiseOfStretches(design.series, templates, LONG_STRETCHES, openToCalm(weak), guess === "every-stretch");
  }
  const { timesS } = design.series;
  const { noise } = fitNoise(design.explained(templates), guess === "stiff" ? stiffened(weak) : weak);
  return { noise, stretches: [{ startS: timesS[0], endS: timesS[timesS.length - 1] }], leftOut: [] };
}

/**
 * How noise is told from dips that nobody knows: `stiff` takes the level of a short recording to wander little;
 * `every-stretch` takes what suits badly in a long one for wander and not for dips.
 */
export type NoiseGuess = "likeliest" | "stiff" | "every-stretch";

/** Noise as recordings of a minute show it; those that follow will be able to rule out no more wander than these. */
export function noiseOfMinutes(design: ReadingsDesign): NoiseParameters {
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  if (isShort(design)) return fitNoise(design.explained([]), prior).noise;
  return noiseOfStretches(design.series, [], MINUTES, prior).noise;
}

/** All but no knowledge, as a standard deviation of the logarithm. */
const OPEN = 25;

/** Stretches long enough show by themselves how little the level wanders: the prior must not hold it up. */
function openToCalm({ meanLogs, sdLogs }: NoisePrior): NoisePrior {
  const wide = Float64Array.from(sdLogs);
  for (const k of [1, 3, 4]) wide[k] = OPEN;
  return { meanLogs, sdLogs: wide };
}

function noiseOfStretches(
  series: WorkingSeries,
  templates: readonly Float64Array[],
  cut: StretchCut,
  prior: NoisePrior,
  keepsAll = false,
): SearchNoise {
  const stretches = stretchesOf(series, templates, cut);
  const fits: NoiseFit[] = [];
  for (const { readings } of stretches) fits.push(fitNoise(readings, prior, fits.at(-1)?.logs, FLAT));
  const middle = Float64Array.from(fits[0].logs, (_, k) => median(fits.map(({ logs }) => logs[k])));
  const misfits = stretches.map(({ readings }, k) => restrictedObjective(readings, middle, prior) - fits[k].objective);
  const limit = Math.max(MISFIT, median(misfits));
  const kept = stretches.filter((_, k) => keepsAll || misfits[k] <= limit);
  const together = (logs: Float64Array) =>
    kept.reduce((sum, { readings }) => sum + restrictedObjective(readings, logs, prior), 0) -
    (kept.length - 1) * priorPenalty(logs, prior);
  const { noise } = likeliestNoise(together, middle, FLAT);
  return { noise, stretches: kept, leftOut: stretches.filter((one) => !kept.includes(one)) };
}

/** Where the level does not wander the likelihood is all but flat: less than this is not gone after. */
const FLAT = 0.03;

/** Half of the 1 % point of chi-square with five degrees of freedom: a stretch with the same noise rarely misfits more. */
const MISFIT = 7.5;

/**
 * `1 / (2 var ln s)`, with the variance of the scale of a typical train over the noise's posterior. The train stands about
 * the middle reading, which shows it: the middle of the time may lie in a gap.
 */
export function degreesOfFreedom(design: ReadingsDesign, templates: readonly Float64Array[]): number {
  const { timesS, blockS } = design.series;
  const middleS = timesS[timesS.length >> 1];
  const onTimes = [-10, 0, 10].map((at) => ({ onsetS: middleS + at - 2.5, releaseS: middleS + at + 2.5 }));
  const typical = dipTemplate(timesS, blockS, onTimes, plainShape(0.35));
  const readings = design.explained(templates);
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const nodes = posteriorNodes(readings, prior, fitNoise(readings, prior));
  const { columns } = design.columns([], [typical]);
  const logs = nodes.map(({ noise }) => {
    const { uAmplitudesV } = matchedScores(design.series, columns, { common: 2, templates: 1 }, noise, false);
    return logarithm(uAmplitudesV[0]);
  });
  let mean = 0;
  let variance = 0;
  nodes.forEach(({ weight }, k) => {
    mean += weight * logs[k];
  });
  nodes.forEach(({ weight }, k) => {
    variance += weight * squared(logs[k] - mean);
  });
  return 1 / (2 * variance);
}

/**
 * The same of a long recording: half the seconds that its noise is taken from. By {@link degreesOfFreedom} it is 0.44 to 0.8
 * of them in simulated recordings of 150 to 600 s, in white noise most, in coloured noise least.
 */
export function stretchDegreesOfFreedom({ stretches }: SearchNoise): number {
  return stretches.reduce((sum, { startS, endS }) => sum + (endS - startS), 0) / 2;
}

/** How a long recording is cut into stretches for the fit of its noise. */
interface StretchCut {
  readonly most: number;
  readonly lengthS: number;
  readonly readings: number;
}

const MINUTES: StretchCut = { most: 7, lengthS: 60, readings: 600 };
const LONG_STRETCHES: StretchCut = { most: 5, lengthS: 200, readings: 1000 };

interface Stretch {
  readonly readings: ExplainedReadings;
  readonly startS: number;
  readonly endS: number;
}

/** Stretches evenly spread over the recording; of more readings than asked for every second, third ... is taken. */
function stretchesOf(series: WorkingSeries, templates: readonly Float64Array[], cut: StretchCut): Stretch[] {
  const { timesS } = series;
  const n = timesS.length;
  const spanS = timesS[n - 1] - timesS[0];
  const perSecond = (n - 1) / spanS;
  const length = Math.max(30, Math.min(n >> 1, Math.round(cut.lengthS * perSecond)));
  const count = Math.max(2, Math.min(cut.most, Math.floor(n / length)));
  const every = Math.max(1, Math.floor(length / cut.readings));
  return Array.from({ length: count }, (_, k) => {
    const start = Math.floor(((n - length) * k) / (count - 1));
    const thin = (values: Float64Array) => values.subarray(start, start + length).filter((_, i) => i % every === 0);
    const part: WorkingSeries = {
      ...series,
      timesS: thin(series.timesS),
      valuesV: thin(series.valuesV),
      readingCounts: thin(series.readingCounts),
      noiseFactors: series.noiseFactors == null ? null : thin(series.noiseFactors),
    };
    const dips = templates.map(thin).filter((one) => one.some((value) => value !== 0));
    const readings = new ReadingsDesign(part).explained(dips);
    return { readings, startS: timesS[start], endS: timesS[start + length - 1] };
  });
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}
