import { type DipShape, dipTrain, type OnTime } from "./dip-shape.js";
import { standardNormalDensity, standardNormalProbability, standardNormalQuantile } from "./distributions.js";
import { dot, orthonormalBasis, withoutSpan } from "./linear.js";
import type { SimulatedRecording } from "./simulate.js";
import { whitenByTruth } from "./whitening.js";

/** Powers of time, scaled to -1 .. 1, up to the degree: what the slow drift may be. */
export function drifts(timesS: Float64Array, degree: number): Float64Array[] {
  const middleS = (timesS[0] + timesS[timesS.length - 1]) / 2;
  const halfS = Math.max(1e-9, (timesS[timesS.length - 1] - timesS[0]) / 2);
  return Array.from({ length: degree + 1 }, (_, power) => timesS.map((timeS) => ((timeS - middleS) / halfS) ** power));
}

/** Readings that a person would look at: the train and what stands around it. */
export function windowOf(recording: SimulatedRecording, windowS: number): SimulatedRecording {
  if (recording.timesS[recording.timesS.length - 1] - recording.timesS[0] <= windowS) return recording;
  const middleS = (recording.onTimes[0].onS + recording.onTimes[recording.onTimes.length - 1].offS) / 2;
  const from = recording.timesS.findIndex((timeS) => timeS >= middleS - windowS / 2);
  const end = recording.timesS.findIndex((timeS) => timeS > middleS + windowS / 2);
  const to = end < 0 ? recording.timesS.length : end;
  const { truth } = recording;
  return {
    ...recording,
    timesS: recording.timesS.slice(from, to),
    voltagesV: recording.voltagesV.slice(from, to),
    emptyV: recording.emptyV.slice(from, to),
    unitFall: recording.unitFall.slice(from, to),
    driftV: recording.driftV.slice(from, to),
    truth: {
      ...truth,
      isOutlier: truth.isOutlier.slice(from, to),
      gain: truth.gain === null ? null : truth.gain.slice(from, to),
    },
  };
}

/** Of a longer recording the bound sees this much around the train, with a straight drift; else all and a quadratic. */
export const WINDOW_S = 300;

/**
 * Cramér-Rao bound of the standard deviation of the depth (volts of `depthV`) with times, shape and noise known and a
 * slow drift unknown. Coarse displays: by the Fisher information of rounded readings.
 */
export function depthBoundV(recording: SimulatedRecording): number {
  const part = windowOf(recording, WINDOW_S);
  const [fall, ...unknown] = divideByNoise(part, [part.unitFall, ...unknownDrifts(recording, part)]);
  const alone = withoutSpan(orthonormalBasis(unknown), fall);
  return 1 / Math.sqrt(dot(alone, alone));
}

/** Cramér-Rao bounds of each onset, all edges, the depth and a slow drift being unknown together. */
export function onsetBoundsS(recording: SimulatedRecording): number[] {
  return onsetBoundsBesideS(recording, []);
}

/** The same as Bayesian bounds of one who knows the shape only as well as the doubt says. */
export function shapeFreeOnsetBoundsS(recording: SimulatedRecording, doubt: ShapeDoubt): number[] {
  return onsetBoundsBesideS(recording, shapeDoubts(windowOf(recording, WINDOW_S), doubt));
}

function onsetBoundsBesideS(recording: SimulatedRecording, doubts: readonly Doubt[]): number[] {
  const part = windowOf(recording, WINDOW_S);
  const slopes = edgeSlopes(part.shape, part.onTimes, part.timesS).map((slope) => slope.map((v) => v * part.depthV));
  const columns = expecting(part, [...slopes, part.unitFall, ...unknownDrifts(recording, part)], doubts);
  return part.onTimes.map((_, k) => {
    const rest = columns.filter((_column, c) => c !== 2 * k);
    const alone = withoutSpan(orthonormalBasis(rest), columns[2 * k]);
    return 1 / Math.sqrt(dot(alone, alone));
  });
}

/** What a person may expect of the shape and the edges before reading: standard deviations; 0 where known. */
export interface ShapeDoubt {
  readonly inrush: number;
  /** Of the natural logarithm of the settling time. */
  readonly logSettle: number;
  readonly polarization: number;
  readonly lagS: number;
  /** Of each edge about its mark; infinite where no mark is told. */
  readonly edgeS: number;
}

/**
 * Bayesian Cramér-Rao bound of the depth where shape and edges are known only as well as the doubt says, at the
 * recording's depth; noise known, drift unknown.
 *
 * Source: H. L. Van Trees, Detection, Estimation, and Modulation Theory, part I, 1968, 2.4 (from memory).
 */
export function shapeFreeDepthBoundV(recording: SimulatedRecording, doubt: ShapeDoubt): number {
  const part = windowOf(recording, WINDOW_S);
  const doubts = shapeDoubts(part, doubt);
  if (doubt.edgeS > 0) {
    const isFree = !Number.isFinite(doubt.edgeS);
    for (const slope of edgeSlopes(part.shape, part.onTimes, part.timesS)) {
      doubts.push({ column: slope.map((value) => value * part.depthV * (isFree ? 1 : doubt.edgeS)), isFree });
    }
  }
  const [fall, ...unknown] = expecting(part, [part.unitFall, ...unknownDrifts(recording, part)], doubts);
  const alone = withoutSpan(orthonormalBasis(unknown), fall);
  return 1 / Math.sqrt(dot(alone, alone));
}

/** What the reading changes by, by one standard deviation of an expectation; by one unit where nothing is expected. */
interface Doubt {
  readonly column: Float64Array;
  readonly isFree: boolean;
}

function shapeDoubts(part: SimulatedRecording, doubt: ShapeDoubt): Doubt[] {
  const { shape, depthV } = part;
  const turned = (change: Partial<DipShape>, deviation: number): Doubt => ({
    column: shapeSlope(part, change).map((value) => (value * deviation * depthV) / STEP),
    isFree: false,
  });
  return [
    turned({ inrush: shape.inrush + STEP }, doubt.inrush),
    turned({ settleS: shape.settleS * (1 + STEP) }, doubt.logSettle),
    turned({ polarization: shape.polarization + STEP }, doubt.polarization),
    turned({ lagS: shape.lagS + STEP }, doubt.lagS),
  ];
}

/** Columns divided by the noise, and after them those of the doubts: each expectation is one more reading of its parameter. */
function expecting(part: SimulatedRecording, known: readonly Float64Array[], doubts: readonly Doubt[]): Float64Array[] {
  const whitened = divideByNoise(part, [...known, ...doubts.map((d) => d.column)]);
  return whitened.map((column, c) => {
    const longer = new Float64Array(column.length + doubts.length);
    longer.set(column);
    const which = c - known.length;
    if (which >= 0 && !doubts[which].isFree) longer[column.length + which] = 1;
    return longer;
  });
}

const STEP = 1e-3;

function shapeSlope({ shape, onTimes, timesS, unitFall }: SimulatedRecording, change: Partial<DipShape>): Float64Array {
  const changed = dipTrain({ ...shape, ...change }, onTimes, timesS);
  return changed.map((value, i) => value - unitFall[i]);
}

/** Columns divided by the true noise; a coarse display's by the information that each rounded reading keeps. */
export function divideByNoise(recording: SimulatedRecording, columns: readonly Float64Array[]): Float64Array[] {
  const { truth } = recording;
  if (!isCoarse(recording)) return whitenByTruth(recording, columns);
  const sigmaV = truth.parts.whiteV;
  const roots = recording.driftV.map((levelV, i) =>
    Math.sqrt(displayInformation(levelV - recording.depthV * recording.unitFall[i], sigmaV, truth.quantumV)),
  );
  return columns.map((column) => column.map((value, i) => value * roots[i]));
}

/**
 * Readings less the true drift, sign turned so that a dip is positive, divided by the true noise; mean zero, variance
 * one where there is no dip. For a coarse display: the derivative of the rounded reading's log-likelihood by the level.
 */
export function whitenedReadings(recording: SimulatedRecording): Float64Array {
  const { truth, driftV, voltagesV } = recording;
  if (!isCoarse(recording)) return divideByNoise(recording, [readingsLessTruth(recording)])[0];
  if (recording.depthV !== 0) throw new RangeError("Cannot whiten rounded readings: the recording must have no dip");
  const sigmaV = truth.parts.whiteV;
  return driftV.map((levelV, i) => {
    const low = (voltagesV[i] - truth.quantumV / 2 - levelV) / sigmaV;
    const high = (voltagesV[i] + truth.quantumV / 2 - levelV) / sigmaV;
    const probability =
      low > 0
        ? standardNormalProbability(-low) - standardNormalProbability(-high)
        : standardNormalProbability(high) - standardNormalProbability(low);
    const slope = (standardNormalDensity(high) - standardNormalDensity(low)) / (sigmaV * probability);
    return slope / Math.sqrt(displayInformation(levelV, sigmaV, truth.quantumV));
  });
}

/**
 * True drift and tone less readings: positive in a dip. Where 1/f noise forbids leaving readings out, a known outlier
 * is replaced by the mean of its good neighbours.
 */
export function readingsLessTruth({ truth, driftV, voltagesV, timesS }: SimulatedRecording): Float64Array {
  const { tone, isOutlier } = truth;
  const rest = driftV.map((levelV, i) => {
    const turn = tone === null ? 0 : 2 * Math.PI * tone.frequencyHz * timesS[i] + tone.phase;
    return levelV + (tone === null ? 0 : tone.amplitudeV * Math.sin(turn)) - voltagesV[i];
  });
  if (truth.parts.flickerVPerRtHz === 0) return rest;
  return rest.map((value, i) => {
    if (isOutlier[i] === 0) return value;
    const good = [i - 2, i - 1, i + 1, i + 2].filter((k) => k >= 0 && k < rest.length && isOutlier[k] === 0);
    return good.reduce((sum, k) => sum + rest[k], 0) / Math.max(1, good.length);
  });
}

/** White noise behind a display so coarse that rounding is no longer like added noise. */
function isCoarse({ truth }: SimulatedRecording): boolean {
  const { parts, quantumV } = truth;
  return quantumV > parts.whiteV && parts.colouredV === 0 && parts.flickerVPerRtHz === 0 && parts.walkVPerRtS === 0;
}

/**
 * Fisher information about the level, 1/V^2, in one reading with normal noise, rounded to the nearest quantum.
 *
 * Sum over digits of (change of probability with the level)^2 / probability.
 */
export function displayInformation(levelV: number, sigmaV: number, quantumV: number): number {
  const first = Math.floor((levelV - 7 * sigmaV) / quantumV);
  const last = Math.ceil((levelV + 7 * sigmaV) / quantumV);
  let information = 0;
  for (let digit = first; digit <= last; digit++) {
    const low = ((digit - 0.5) * quantumV - levelV) / sigmaV;
    const high = ((digit + 0.5) * quantumV - levelV) / sigmaV;
    // Mirror to the lower tail, where probabilities keep their digits.
    const probability =
      low > 0
        ? standardNormalProbability(-low) - standardNormalProbability(-high)
        : standardNormalProbability(high) - standardNormalProbability(low);
    if (probability <= 1e-300) continue;
    const change = (standardNormalDensity(low) - standardNormalDensity(high)) / sigmaV;
    information += change ** 2 / probability;
  }
  return information;
}

/** Depth that is found with the power at the false-alarm rate, time known, per `sigma`: the two normal quantiles. */
export function knownTimeDetectable(falseAlarmRate: number, power: number): number {
  return standardNormalQuantile(1 - falseAlarmRate) + standardNormalQuantile(power);
}

/** Closed form: one plain dip in white noise, levels before and after known from `n` readings each side together. */
export function whiteDipBoundV(sigmaV: number, onCount: number, offCount: number): number {
  return sigmaV * Math.sqrt(1 / onCount + 1 / offCount);
}

/** Change of the reading's fall with each edge's time, per second and volt of depth: on, off, on, off ... */
function edgeSlopes(shape: DipShape, onTimes: readonly OnTime[], timesS: Float64Array): Float64Array[] {
  const stepS = 1e-3;
  const fall = (moved: readonly OnTime[]) => dipTrain(shape, moved, timesS);
  return onTimes.flatMap((onTime, k) =>
    (["onS", "offS"] as const).map((edge) => {
      const later = fall(onTimes.with(k, { ...onTime, [edge]: onTime[edge] + stepS }));
      const earlier = fall(onTimes.with(k, { ...onTime, [edge]: onTime[edge] - stepS }));
      return later.map((value, i) => (value - earlier[i]) / (2 * stepS));
    }),
  );
}

/** What is not known of the level: the drift's polynomial and a tone's amplitude and phase. */
export function unknownDrifts(whole: SimulatedRecording, part: SimulatedRecording): Float64Array[] {
  return [...drifts(part.timesS, part.timesS.length < whole.timesS.length ? 1 : 2), ...tones(part)];
}

/** An alias tone of known frequency and unknown amplitude and phase. */
function tones({ truth, timesS }: SimulatedRecording): Float64Array[] {
  if (truth.tone === null) return [];
  const turn = 2 * Math.PI * truth.tone.frequencyHz;
  return [timesS.map((timeS) => Math.sin(turn * timeS)), timesS.map((timeS) => Math.cos(turn * timeS))];
}
