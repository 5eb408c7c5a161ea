import type { NoiseParameters } from "../noise/noise-parameters.js";
import { posteriorNodes } from "../noise/posterior-nodes.js";
import {
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
import { dipTemplate } from "./switching-template.js";

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

/**
 * Noise of the whole recording beside the known dips. Short recordings are fitted whole, long ones by several stretches
 * together: each alone tells too little of slow wander. Stretches that the median of the single fits suits badly are left
 * out, so that a few unknown dips do not matter.
 */
export function searchNoise(
  design: ReadingsDesign,
  templates: readonly Float64Array[],
  stiff = false,
): NoiseParameters {
  const weak = weakNoisePrior(design.scatterV, design.intervalS);
  const prior = stiff ? stiffened(weak) : weak;
  if (isShort(design)) return fitNoise(design.explained(templates), prior).noise;
  const parts = stretchesOf(design.series).map((stretch) => new ReadingsDesign(stretch).explained([]));
  const fits: NoiseFit[] = [];
  for (const part of parts) fits.push(fitNoise(part, prior, fits.at(-1)?.logs));
  const middle = Float64Array.from(fits[0].logs, (_, k) => median(fits.map(({ logs }) => logs[k])));
  const misfits = parts.map((part, k) => restrictedObjective(part, middle, prior) - fits[k].objective);
  const limit = Math.max(MISFIT, median(misfits));
  const kept = parts.filter((_, k) => misfits[k] <= limit);
  const together = (logs: Float64Array) =>
    kept.reduce((sum, part) => sum + restrictedObjective(part, logs, prior), 0) -
    (kept.length - 1) * priorPenalty(logs, prior);
  return likeliestNoise(together, middle).noise;
}

/** Half of the 1 % point of chi-square with five degrees of freedom: a stretch with the same noise rarely misfits more. */
const MISFIT = 7.5;

/** `1 / (2 var ln s)`, with the variance of the scale of a typical train over the noise's posterior. */
export function degreesOfFreedom(design: ReadingsDesign, templates: readonly Float64Array[]): number {
  const { timesS, blockS } = design.series;
  const middleS = (timesS[0] + timesS[timesS.length - 1]) / 2;
  const shape = { shiftS: 0, lagS: 0.35, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
  const onTimes = [-10, 0, 10].map((at) => ({ onsetS: middleS + at - 2.5, releaseS: middleS + at + 2.5 }));
  const typical = dipTemplate(timesS, blockS, onTimes, shape);
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
  return Number.isFinite(variance) && variance > 0 ? Math.max(4, 1 / (2 * variance)) : Number.POSITIVE_INFINITY;
}

const STRETCH_COUNT = 7;
const STRETCH_S = 60;
const MOST_IN_STRETCH = 600;

/** Stretches of about a minute, evenly spread over the recording. */
function stretchesOf(series: WorkingSeries): WorkingSeries[] {
  const { timesS } = series;
  const n = timesS.length;
  const meanIntervalS = (timesS[n - 1] - timesS[0]) / (n - 1);
  const length = Math.max(30, Math.min(MOST_IN_STRETCH, Math.round(STRETCH_S / meanIntervalS), n));
  const stretches: WorkingSeries[] = [];
  for (let k = 0; k < STRETCH_COUNT; k++) {
    const start = Math.floor(((n - length) * k) / (STRETCH_COUNT - 1));
    stretches.push(partOf(series, start, start + length));
  }
  return stretches;
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}
