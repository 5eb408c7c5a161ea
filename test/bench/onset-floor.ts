/**
 * How near to the Cramér-Rao bound anybody can tell an onset: `npx tsx test/bench/onset-floor.ts CELLS RECORDINGS SEED SIGMA`.
 *
 * One who is told noise, shape and the number of dips, and who has a flat expectation of each edge within 5 s, takes the
 * posterior mean of the edges, which no other way betters in the mean square (Pitman 1939, Biometrika 30, from memory). The bound
 * is of one who is right to within a fraction of the lag already; in readings as noisy as these nobody is.
 */
import { depthBoundV, divideByNoise, drifts, onsetBoundsS, readingsLessTruth, windowOf } from "./bounds.js";
import { cellNames } from "./cells.js";
import { dipTrain } from "./dip-shape.js";
import { dot, orthonormalBasis, withoutSpan } from "./linear.js";
import { type RandomStream, randomStream } from "./random.js";
import { type SimulatedRecording, simulateRecording, withDepth } from "./simulate.js";
import { meanOf } from "./statistics.js";

const [cells = "W,F", recordings = "24", first = "300001", sigma = "15"] = process.argv.slice(2);
const WINDOW_S = 80;
const REACH_S = 5;
/** Of a third of the bound. */
const MOST_STEPS = 100;
const [SWEEPS, UNSETTLED] = [300, 30];

for (const cell of cellNames(cells)) {
  const squares: number[][] = [];
  for (let seed = Number(first); seed < Number(first) + Number(recordings); seed++) {
    const empty = simulateRecording(cell, { seed, depthV: 0, marks: "none" });
    const recording = withDepth(empty, Number(sigma) * depthBoundV(empty));
    const bounds = onsetBoundsS(recording);
    const errorsS = onsetErrorsS(windowOf(recording, WINDOW_S), bounds[0] / 3, randomStream(seed, "onset floor"));
    squares.push(errorsS.map((errorS, k) => (errorS / bounds[k]) ** 2));
  }
  const { low, high } = resampled(squares, randomStream(1, "resampling"));
  const ratio = Math.sqrt(meanOf(squares.flat())).toFixed(2);
  console.log(
    `${cell}: onset RMSE of the posterior mean over the bound ${ratio} [${low.toFixed(2)}, ${high.toFixed(2)}], ${recordings} recordings, ${sigma} bounds deep, shape and noise told`,
  );
}

/** Errors of the posterior means of all onsets, seconds; by Gibbs sampling of the edges on a grid, the depth integrated out. */
function onsetErrorsS(part: SimulatedRecording, stepS: number, random: RandomStream): number[] {
  const half = Math.min(Math.round(REACH_S / stepS), MOST_STEPS);
  const chances = edgeChances(part, stepS, half);
  const state = part.onTimes.flatMap(() => [half, half]);
  const sums = state.map(() => 0);
  for (let sweep = 0; sweep < SWEEPS; sweep++) {
    for (let edge = 0; edge < state.length; edge++) {
      state[edge] = drawn(
        Array.from({ length: 2 * half + 1 }, (_, at) => chances(state.with(edge, at))),
        random,
      );
    }
    if (sweep < UNSETTLED) continue;
    for (const [edge, at] of state.entries()) sums[edge] += at - half;
  }
  return part.onTimes.map((_, k) => (sums[2 * k] / (SWEEPS - UNSETTLED)) * stepS);
}

/** Index drawn by the logarithms of the chances. */
function drawn(logs: readonly number[], random: RandomStream): number {
  const top = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - top));
  let rest = random.uniform() * weights.reduce((sum, weight) => sum + weight, 0);
  const index = weights.findIndex((weight) => {
    rest -= weight;
    return rest <= 0;
  });
  return index < 0 ? weights.length - 1 : index;
}

/**
 * Log-likelihood of edges at places of the grid (on, off, on ...), the depth and a straight drift integrated out with flat
 * expectations. Each edge is a response that never ends, so that all sums are of products worked out once.
 */
function edgeChances(part: SimulatedRecording, stepS: number, half: number): (state: readonly number[]) => number {
  const { shape, timesS } = part;
  const whiten = (columns: readonly Float64Array[]) => divideByNoise(part, columns);
  const basis = orthonormalBasis(whiten(drifts(timesS, 1)));
  const readings = withoutSpan(basis, whiten([readingsLessTruth(part)])[0]);
  const edges = part.onTimes.flatMap(({ onS, offS }) => [onS, offS]);
  const places = edges.map((edgeS) => Array.from({ length: 2 * half + 1 }, (_, g) => edgeS + (g - half) * stepS));
  const endless = (onS: number, inrush: number) =>
    dipTrain({ ...shape, inrush }, [{ onS, offS: Number.MAX_VALUE }], timesS);
  // Switching on: all of it. Switching off: the settled part, and what is left of the inrush.
  const raw = places.flatMap((times, edge) =>
    times.flatMap((timeS) => {
      const [settled, whole] = [endless(timeS, 0), endless(timeS, 1)];
      const extra = whole.map((v, i) => v - settled[i]);
      return edge % 2 === 0 ? [settled.map((v, i) => v + shape.inrush * extra[i])] : [settled, extra];
    }),
  );
  const columns = whiten(raw).map((column) => withoutSpan(basis, column));
  const starts = edges.map((_, edge) => (2 * half + 1) * (Math.ceil(edge / 2) + 2 * Math.floor(edge / 2)));
  const byReadings = columns.map((column) => dot(column, readings));
  const products = columns.map((a) => Float64Array.from(columns, (b) => dot(a, b)));
  return (state) => {
    const parts: [index: number, factor: number][] = [];
    for (let edge = 0; edge < edges.length; edge += 2) {
      const durationS = places[edge + 1][state[edge + 1]] - places[edge][state[edge]];
      if (durationS < 0.5) return Number.NEGATIVE_INFINITY;
      const off = starts[edge + 1] + 2 * state[edge + 1];
      parts.push([starts[edge] + state[edge], 1], [off, -1]);
      parts.push([off + 1, -shape.inrush * Math.exp(-durationS / shape.settleS)]);
    }
    let [along, length] = [0, 0];
    for (const [a, factor] of parts) {
      along += factor * byReadings[a];
      for (const [b, other] of parts) length += factor * other * products[a][b];
    }
    return along > 0 ? along ** 2 / length / 2 - Math.log(length) / 2 : Number.NEGATIVE_INFINITY;
  };
}

/** 95 % limits of the root of the mean square by drawing recordings anew, with replacement. */
function resampled(squares: readonly (readonly number[])[], random: RandomStream) {
  const roots = Array.from({ length: 2000 }, () =>
    Math.sqrt(meanOf(squares.flatMap(() => squares[random.integer([0, squares.length - 1])]))),
  ).sort((a, b) => a - b);
  return { low: roots[49], high: roots[1949] };
}
