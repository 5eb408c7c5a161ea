import {
  applyTransposed,
  factorize,
  type QrFactors,
  solveUpper,
  solveUpperTransposed,
} from "../statistics/householder.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

export interface DampedStep {
  readonly step: Float64Array;
  /** Marquardt's parameter; 0 where the full step fits into the region. */
  readonly damping: number;
}

/** The length of the step may miss the radius by this share. */
const LENGTH_TOLERANCE = 0.1;

/**
 * Step that minimises `|J s + f|` within `|D s| <= radius`, from the QR factors of J and `rotated = Q'f`.
 *
 * Source: More 1978 (from memory): Newton's method on the reciprocal length, inside bounds.
 */
export function dampedStep(
  factors: QrFactors,
  rotated: Float64Array,
  scales: Float64Array,
  radius: number,
): DampedStep {
  const full = factors.diagonal.every((value) => value !== 0) ? solveUpper(factors, rotated) : null;
  const fullLength = full === null ? Number.POSITIVE_INFINITY : scaledNorm(full, scales);
  if (full !== null && fullLength - radius <= LENGTH_TOLERANCE * radius) {
    return { step: full.map((value) => -value), damping: 0 };
  }
  const steepest = Math.sqrt(gradient(factors, rotated).reduce((sum, value, j) => sum + squared(value / scales[j]), 0));
  let low = full === null ? 0 : (fullLength - radius) / radius / bend(factors, full, scales, fullLength);
  let high = steepest / radius || Number.MIN_VALUE;
  let damping = Math.min(Math.max(low, 1e-3 * high, Number.MIN_VALUE), high);
  for (let iteration = 0; ; iteration++) {
    const damped = factorizeDamped(factors, scales, damping);
    const rightSide = new Float64Array(2 * scales.length);
    rightSide.set(rotated.subarray(0, scales.length));
    applyTransposed(damped, rightSide);
    const solution = solveUpper(damped, rightSide);
    const length = scaledNorm(solution, scales);
    const excess = length - radius;
    if (Math.abs(excess) <= LENGTH_TOLERANCE * radius || iteration === 20) {
      return { step: solution.map((value) => -value), damping };
    }
    if (excess > 0) low = Math.max(low, damping);
    else high = Math.min(high, damping);
    damping = Math.max(low, damping + excess / radius / bend(damped, solution, scales, length));
    if (!(damping < high)) damping = (low + high) / 2;
  }
}

/** `|D s|`. */
export function scaledNorm(step: Float64Array, scales: Float64Array): number {
  return rootSumSquares(...step.map((value, j) => value * scales[j]));
}

/** `R'Q'f = J'f`. */
function gradient({ packed, columnCount, diagonal }: QrFactors, rotated: Float64Array): Float64Array {
  return diagonal.map((value, j) => {
    let sum = value * rotated[j];
    for (let i = 0; i < j; i++) sum += packed[i * columnCount + j] * rotated[i];
    return sum;
  });
}

/** Derivative of the reciprocal length by the damping, up to the factor that Newton's step needs. */
function bend(factors: QrFactors, solution: Float64Array, scales: Float64Array, length: number): number {
  const direction = solution.map((value, j) => (squared(scales[j]) * value) / length);
  return solveUpperTransposed(factors, direction).reduce((sum, value) => sum + value * value, 0);
}

/** QR of R stacked on `sqrt(damping) D`. */
function factorizeDamped(
  { packed, columnCount, diagonal }: QrFactors,
  scales: Float64Array,
  damping: number,
): QrFactors {
  const stacked = new Float64Array(2 * columnCount * columnCount);
  for (let i = 0; i < columnCount; i++) {
    stacked[i * columnCount + i] = diagonal[i];
    for (let j = i + 1; j < columnCount; j++) stacked[i * columnCount + j] = packed[i * columnCount + j];
    stacked[(columnCount + i) * columnCount + i] = Math.sqrt(damping) * scales[i];
  }
  return factorize(stacked, 2 * columnCount, columnCount);
}
