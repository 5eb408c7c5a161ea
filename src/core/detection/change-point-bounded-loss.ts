import type { SearchTrace } from "./change-point-least-squares.js";
import { CostPieces, levelRange } from "./cost-pieces.js";

/** Functional pruning for the squared loss that stops growing at `outlierLimit` from the level. */
export function searchBoundedLoss(
  values: Float64Array,
  penalty: number,
  weights: Float64Array | undefined,
  outlierLimit: number,
): SearchTrace {
  const count = values.length;
  const lastStart = new Int32Array(count);
  const lastLevel = new Float64Array(count);
  const { low, high } = levelRange(values);
  const now = CostPieces.zero(high);
  const next = CostPieces.zero(high);
  let cost = 0;
  for (let t = 0; t < count; t++) {
    now.addBounded(values[t], weights === undefined ? 1 : weights[t], outlierLimit, low, next);
    cost = next.findLeast(low);
    lastStart[t] = next.leastStart;
    lastLevel[t] = next.leastLevel;
    next.offer(cost + penalty, t + 1, low, now);
  }
  return { lastStart, lastLevel, cost };
}
