import {
  divideByNoise,
  drifts,
  readingsLessTruth,
  unknownDrifts,
  WINDOW_S,
  whitenedReadings,
  windowOf,
} from "./bounds.js";
import { dipTrain } from "./dip-shape.js";
import { fourierTransform, powerOfTwoAtLeast } from "./fourier.js";
import { dot, orthonormalBasis, ToeplitzSolver, withoutSpan } from "./linear.js";
import type { SimulatedRecording } from "./simulate.js";
import { evenCovariance } from "./whitening.js";

/**
 * The detector that knows the noise, the shape, the true intervals and the true course of the drift, on a recording
 * drawn without a dip. A known outlier is left out. Scores are in standard deviations; a dip of depth A adds `A x gain` to each.
 */
export interface ClairvoyantScores {
  /** At the true time, against a recording in which the drift's polynomial is unknown. */
  readonly known: { readonly score: number; readonly gainPerV: number };
  /** At every time at which the train could stand. */
  readonly scan: readonly { readonly score: number; readonly gainPerV: number }[];
}

const SCAN_STEP_S = 0.1;

export function clairvoyantScores(empty: SimulatedRecording, wantScan: boolean): ClairvoyantScores {
  if (empty.depthV !== 0) throw new RangeError("Cannot score: the clairvoyant's recording must be drawn without a dip");
  const isLong = windowOf(empty, WINDOW_S) !== empty;
  const known = knownTimeScore(empty);
  if (!wantScan) return { known, scan: [] };
  return { known, scan: isLong ? longScan(empty) : shortScan(empty) };
}

/** Largest score of the scan. */
export function scanMaximum(scores: ClairvoyantScores): number {
  return scores.scan.reduce((largest, { score }) => Math.max(largest, score), Number.NEGATIVE_INFINITY);
}

/** Smallest depth at which one of the scores would reach the threshold. */
export function smallestFoundV(scores: readonly { score: number; gainPerV: number }[], threshold: number): number {
  return scores.reduce(
    (smallest, { score, gainPerV }) => (gainPerV > 0 ? Math.min(smallest, (threshold - score) / gainPerV) : smallest),
    Number.POSITIVE_INFINITY,
  );
}

function knownTimeScore(empty: SimulatedRecording) {
  const part = windowOf(empty, WINDOW_S);
  const [fall, ...unknown] = divideByNoise(part, [part.unitFall, ...unknownDrifts(empty, part)]);
  const alone = withoutSpan(orthonormalBasis(unknown), fall);
  const length = Math.sqrt(dot(alone, alone));
  return { score: dot(alone, whitenedReadings(part)) / length, gainPerV: length };
}

/** Every shift of the true train by whole steps, each with the drift projected out. */
function shortScan(empty: SimulatedRecording) {
  const { timesS, onTimes } = empty;
  const endS = timesS[timesS.length - 1];
  // A gap may hide the start or the end of the train; the true place always belongs to the scan.
  const first = Math.min(0, Math.ceil((timesS[0] - onTimes[0].onS) / SCAN_STEP_S));
  const last = Math.max(0, Math.floor((endS - onTimes[onTimes.length - 1].offS) / SCAN_STEP_S));
  const fallAt = tabulatedTrain(empty, -(endS - timesS[0]), 2 * endS - timesS[0]);
  const shifted = Array.from({ length: last - first + 1 }, (_, k) =>
    k + first === 0 ? empty.unitFall : timesS.map((timeS) => fallAt(timeS - (k + first) * SCAN_STEP_S)),
  );
  const columns = divideByNoise(empty, [...unknownDrifts(empty, empty), ...shifted]);
  const unknownCount = columns.length - shifted.length;
  const basis = orthonormalBasis(columns.slice(0, unknownCount));
  const readings = withoutSpan(basis, whitenedReadings(empty));
  const truth = withoutSpan(basis, columns[unknownCount - first]);
  return columns.slice(unknownCount).map((column) => {
    const alone = withoutSpan(basis, column);
    const length = Math.sqrt(dot(alone, alone));
    return { score: dot(alone, readings) / length, gainPerV: dot(alone, truth) / length };
  });
}

/** The true train's fall at any time, from a fine table. */
function tabulatedTrain(empty: SimulatedRecording, fromS: number, toS: number): (timeS: number) => number {
  const stepS = 0.01;
  const count = Math.ceil((toS - fromS) / stepS) + 2;
  const table = dipTrain(
    empty.shape,
    empty.onTimes,
    Float64Array.from({ length: count }, (_, k) => fromS + k * stepS),
  );
  return (timeS) => {
    const place = (timeS - fromS) / stepS;
    const k = Math.floor(place);
    return table[k] + (place - k) * (table[k + 1] - table[k]);
  };
}

/**
 * Evenly sampled long recordings: the generalized least squares estimate of the depth in a window around each place
 * of the train, drift straight within the window, noise stationary; one filter for all places.
 */
function longScan(empty: SimulatedRecording) {
  const part = windowOf(empty, WINDOW_S);
  const count = part.timesS.length;
  const filter = windowFilter(part);
  const scores = correlate(filter, readingsLessTruth(empty));
  const gains = correlate(filter, empty.unitFall);
  const length = Math.sqrt(dot(filter, part.unitFall));
  return Array.from({ length: empty.timesS.length - count + 1 }, (_, k) => ({
    score: scores[k] / length,
    gainPerV: gains[k] / length,
  }));
}

const solvers = new Map<string, ToeplitzSolver>();

/** Inverse covariance applied to the train, orthogonal to a straight drift. */
function windowFilter(part: SimulatedRecording): Float64Array {
  const { truth, timesS, unitFall } = part;
  const key = JSON.stringify([truth.parts, truth.intervalS, truth.quantumV, timesS.length]);
  const solver = solvers.get(key) ?? new ToeplitzSolver(evenCovariance(part, timesS.length));
  solvers.set(key, solver);
  const [level, slope] = drifts(timesS, 1);
  const [solvedLevel, solvedSlope, solved] = [level, slope, unitFall].map((column) => solver.solve(column));
  // Level and slope are orthogonal in any stationary noise: even and odd about the middle.
  const levelShare = dot(level, solved) / dot(level, solvedLevel);
  const slopeShare = dot(slope, solved) / dot(slope, solvedSlope);
  return solved.map((value, i) => value - levelShare * solvedLevel[i] - slopeShare * solvedSlope[i]);
}

/** sum over i of pattern[i] series[k + i]; zeros beyond the end. */
function correlate(pattern: Float64Array, series: Float64Array): Float64Array {
  const size = powerOfTwoAtLeast(pattern.length + series.length);
  const [pr, pi, sr, si] = Array.from({ length: 4 }, () => new Float64Array(size));
  pr.set(pattern);
  sr.set(series);
  fourierTransform(pr, pi);
  fourierTransform(sr, si);
  for (let j = 0; j < size; j++) {
    // Conjugate of the product's transform, so that a forward transform turns it back.
    const re = sr[j] * pr[j] + si[j] * pi[j];
    const im = si[j] * pr[j] - sr[j] * pi[j];
    sr[j] = re;
    si[j] = -im;
  }
  fourierTransform(sr, si);
  return sr.slice(0, series.length).map((value) => value / size);
}
