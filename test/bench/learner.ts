import { drifts, readingsLessTruth } from "./bounds.js";
import { dot } from "./linear.js";
import type { NoiseParts } from "./noise.js";
import type { SimulatedRecording } from "./simulate.js";
import { whitenMarkov } from "./whitening.js";

/**
 * A detector that knows times and shape but must learn the noise from the recording itself: what not knowing the noise
 * costs anyone.
 *
 * Restricted likelihood over white, correlated and walking noise beside the train and a parabola. The train is part of
 * the fit, so the learnt noise does not depend on the dip's depth: a dip adds `gainPerV` volt by volt.
 */
export function learnerScore(empty: SimulatedRecording): { readonly score: number; readonly gainPerV: number } {
  const columns = [empty.unitFall, ...drifts(empty.timesS, 2), readingsLessTruth(empty)];
  const scatterV = differenceScatter(columns[columns.length - 1]);
  const start = [Math.log(0.7 * scatterV), Math.log(0.7 * scatterV), Math.log(0.8), Math.log(0.002)];
  const spread = [2, 2, 1, 1.5];
  const cost = (logs: readonly number[]) => {
    const prior = logs.reduce((sum, log, k) => sum + 0.5 * ((log - start[k]) / spread[k]) ** 2, 0);
    return prior + restrictedDeviance(empty, columns, partsOf(logs)).halfDeviance;
  };
  const best = simplexMinimum(cost, start, 0.7);
  const { depth, uDepth } = restrictedDeviance(empty, columns, partsOf(best));
  return { score: depth / uDepth, gainPerV: 1 / uDepth };
}

function partsOf([white, coloured, time, walk]: readonly number[]): NoiseParts {
  return {
    whiteV: Math.exp(white),
    colouredV: Math.exp(coloured),
    colouredTimeS: Math.exp(time),
    flickerVPerRtHz: 0,
    walkVPerRtS: Math.exp(walk),
  };
}

/** Last column: readings; first: the train. Depth and its standard uncertainty by the given noise. */
function restrictedDeviance(empty: SimulatedRecording, columns: readonly Float64Array[], parts: NoiseParts) {
  const truth = { ...empty.truth, parts, quantumV: 0, gain: null };
  const { white, logDeterminant } = whitenMarkov({ timesS: empty.timesS, truth }, columns);
  const readings = white[white.length - 1];
  // Modified Gram-Schmidt over drift first and train last; the product of lengths is the design's determinant.
  const design = [...white.slice(1, -1), white[0]];
  let logDesign = 0;
  let length = 0;
  let share = 0;
  for (let c = 0; c < design.length; c++) {
    length = Math.sqrt(dot(design[c], design[c]));
    logDesign += 2 * Math.log(length);
    share = removeSpan(design[c], length, readings);
    for (let other = c + 1; other < design.length; other++) removeSpan(design[c], length, design[other]);
  }
  const halfDeviance = 0.5 * (logDeterminant + logDesign + dot(readings, readings));
  return { halfDeviance, depth: share / length, uDepth: 1 / length };
}

/** Takes the direction's part out of the column, in place; returns how long that part was. */
function removeSpan(direction: Float64Array, length: number, column: Float64Array): number {
  const share = dot(direction, column) / length;
  for (let i = 0; i < column.length; i++) column[i] -= (share / length) * direction[i];
  return share;
}

function differenceScatter(values: Float64Array): number {
  let sum = 0;
  for (let i = 1; i < values.length; i++) sum += (values[i] - values[i - 1]) ** 2;
  return Math.sqrt(sum / (2 * (values.length - 1)));
}

/** Minimum by the simplex method of J. A. Nelder and R. Mead (1965, The Computer Journal 7, 308-313). */
function simplexMinimum(
  cost: (point: readonly number[]) => number,
  start: readonly number[],
  step: number,
): readonly number[] {
  const at = (point: readonly number[]) => ({ point, value: cost(point) });
  let simplex = [at(start), ...start.map((_, k) => at(start.map((x, j) => (j === k ? x + step : x))))];
  for (let round = 0; round < 150; round++) {
    simplex.sort((a, b) => a.value - b.value);
    const worst = simplex[simplex.length - 1];
    if (worst.value - simplex[0].value < 1e-3) break;
    const middle = start.map(
      (_, j) => simplex.slice(0, -1).reduce((sum, { point }) => sum + point[j], 0) / start.length,
    );
    const along = (factor: number) => at(middle.map((m, j) => m + factor * (worst.point[j] - m)));
    const mirrored = along(-1);
    let next = mirrored;
    if (mirrored.value < simplex[0].value) {
      const further = along(-2);
      next = further.value < mirrored.value ? further : mirrored;
    } else if (mirrored.value >= simplex[simplex.length - 2].value) {
      next = mirrored.value < worst.value ? along(-0.5) : along(0.5);
    }
    if (next.value < worst.value) simplex[simplex.length - 1] = next;
    else simplex = simplex.map((corner) => at(corner.point.map((x, j) => (x + simplex[0].point[j]) / 2)));
  }
  return simplex.sort((a, b) => a.value - b.value)[0].point;
}
