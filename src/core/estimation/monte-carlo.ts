import { power, squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";

/** Distribution of a model's output by draws. */
export interface MonteCarloResult {
  readonly mean: number;
  /** Standard deviation of the draws: the standard uncertainty. */
  readonly u: number;
  /** The draws in ascending order. */
  readonly sorted: Float64Array;
}

/**
 * Propagates distributions through a model by drawing.
 *
 * `model` draws its inputs from the generator and returns the output; the same seed gives the same result.
 * Source: JCGM 101:2008, clause 7.
 * @throws RangeError for fewer than 2 draws
 */
export function monteCarlo(
  model: (random: RandomGenerator) => number,
  random: RandomGenerator,
  drawCount = 200_000,
): MonteCarloResult {
  if (!(drawCount >= 2)) {
    throw new RangeError(`Cannot propagate by drawing: at least 2 draws are needed, got ${drawCount}`);
  }
  const draws = new Float64Array(drawCount);
  let mean = 0;
  let squares = 0;
  for (let k = 0; k < drawCount; k++) {
    const y = model(random);
    draws[k] = y;
    const away = y - mean;
    mean += away / (k + 1);
    squares += away * (y - mean);
  }
  return { mean, u: Math.sqrt(squares / (drawCount - 1)), sorted: draws.sort() };
}

/** Interval that leaves out equal probabilities on both sides. Source: JCGM 101:2008, 7.7.2. */
export function symmetricInterval(sorted: Float64Array, coverage: number): { low: number; high: number } {
  const span = spanOf(sorted, coverage);
  const start = Math.floor((sorted.length - span) / 2);
  return { low: sorted[start], high: sorted[Math.min(start + span, sorted.length - 1)] };
}

/** Shortest interval of the given coverage. Source: JCGM 101:2008, 7.7.3. */
export function shortestInterval(sorted: Float64Array, coverage: number): { low: number; high: number } {
  const span = spanOf(sorted, coverage);
  let best = 0;
  for (let start = 1; start + span < sorted.length; start++) {
    if (sorted[start + span] - sorted[start] < sorted[best + span] - sorted[best]) best = start;
  }
  return { low: sorted[best], high: sorted[best + span] };
}

function spanOf(sorted: Float64Array, coverage: number): number {
  if (!(coverage > 0 && coverage < 1)) {
    throw new RangeError(`Cannot take a coverage interval: the coverage must lie between 0 and 1, got ${coverage}`);
  }
  return Math.min(Math.floor(coverage * sorted.length + 0.5), sorted.length - 1);
}

/**
 * Draws until the results are stable to the given number of significant digits of `u`, in blocks of 10 000.
 *
 * Stable means: twice the standard deviation of the mean over the blocks of the estimate, of `u` and of both ends of the
 * symmetric interval is below half a unit in the last of `digits` significant digits of `u`.
 * Source: JCGM 101:2008, 7.9.
 */
export function adaptiveMonteCarlo(
  model: (random: RandomGenerator) => number,
  random: RandomGenerator,
  options: { readonly digits: number; readonly coverage: number; readonly mostDraws?: number },
): MonteCarloResult & { readonly stable: boolean } {
  const block = 10_000;
  const mostBlocks = Math.max(2, Math.floor((options.mostDraws ?? 2_000_000) / block));
  const results: number[][] = [];
  const draws: Float64Array[] = [];
  for (let h = 1; h <= mostBlocks; h++) {
    const result = monteCarlo(model, random, block);
    const interval = symmetricInterval(result.sorted, options.coverage);
    draws.push(result.sorted);
    results.push([result.mean, result.u, interval.low, interval.high]);
    const meanU = results.reduce((sum, row) => sum + row[1], 0) / h;
    if (results[0].every((_, k) => 2 * deviationOfMean(results, k) < tolerance(meanU, options.digits))) {
      return { ...pooled(draws), stable: true };
    }
  }
  return { ...pooled(draws), stable: false };
}

/** Power of ten of the first significant digit. */
function decimalExponent(x: number): number {
  return Number(x.toExponential().split("e")[1]);
}

/** Half a unit in the last significant digit kept. Source: JCGM 101:2008, 7.9.2. */
function tolerance(u: number, digits: number): number {
  return u === 0 ? Number.POSITIVE_INFINITY : 0.5 * power(10, decimalExponent(u) - digits + 1);
}

/** Not a number for a single row, which shows no scatter. */
function deviationOfMean(rows: readonly number[][], column: number): number {
  const count = rows.length;
  const mean = rows.reduce((sum, row) => sum + row[column], 0) / count;
  const squares = rows.reduce((sum, row) => sum + squared(row[column] - mean), 0);
  return Math.sqrt(squares / (count * (count - 1)));
}

function pooled(blocks: readonly Float64Array[]): MonteCarloResult {
  const sorted = new Float64Array(blocks.reduce((sum, block) => sum + block.length, 0));
  let offset = 0;
  for (const block of blocks) {
    sorted.set(block, offset);
    offset += block.length;
  }
  let mean = 0;
  let squares = 0;
  for (let k = 0; k < sorted.length; k++) {
    const away = sorted[k] - mean;
    mean += away / (k + 1);
    squares += away * (sorted[k] - mean);
  }
  return { mean, u: Math.sqrt(squares / (sorted.length - 1)), sorted: sorted.sort() };
}
