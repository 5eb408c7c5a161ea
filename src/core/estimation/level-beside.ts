import { squared } from "../statistics/portable-power.js";

/** Level of a few readings at one of their ends. */
export interface SideLevel {
  readonly level: number;
  /** Standard uncertainty of the level as a multiple of the noise of one reading. */
  readonly noiseFactor: number;
  /** Whether the readings clearly slope. */
  readonly slopes: boolean;
}

/**
 * Level of the readings `[from, to)` half an interval beyond their `start` or `end`, by index.
 *
 * Their mean, or a straight line where four or more of them clearly slope (three standard uncertainties).
 */
export function levelBeside(
  values: Float64Array,
  from: number,
  to: number,
  side: "start" | "end",
  sigma: number,
): SideLevel {
  const count = to - from;
  const middle = (count - 1) / 2;
  let mean = 0;
  for (let k = from; k < to; k++) mean += values[k] / count;
  if (count < 4) return { level: mean, noiseFactor: 1 / Math.sqrt(count), slopes: false };
  let products = 0;
  let squares = 0;
  for (let k = from; k < to; k++) {
    products += (k - from - middle) * (values[k] - mean);
    squares += squared(k - from - middle);
  }
  const slope = products / squares;
  if (Math.abs(slope) * Math.sqrt(squares) <= 3 * sigma)
    return { level: mean, noiseFactor: 1 / Math.sqrt(count), slopes: false };
  const reach = side === "end" ? count - 0.5 - middle : -0.5 - middle;
  return { level: mean + slope * reach, noiseFactor: Math.sqrt(1 / count + squared(reach) / squares), slopes: true };
}
