import { CostPieces, type LevelWindow, levelRange } from "./cost-pieces.js";

/** What a search leaves: for each index the start of the last segment of the best fit up to it, and the last cost. */
export interface SearchTrace {
  readonly lastStart: Int32Array;
  /** Level of that last segment; null where the mean of its values is the level. */
  readonly lastLevel: Float64Array | null;
  readonly cost: number;
}

/**
 * Functional pruning for the squared loss.
 *
 * With a minimum length the pieces lag `minimumLength - 1` values behind; those values stand in a sliding window.
 */
export function searchLeastSquares(
  values: Float64Array,
  penalty: number,
  weights: Float64Array | undefined,
  minimumLength: number,
): SearchTrace {
  const count = values.length;
  const lastStart = new Int32Array(count);
  const lag = minimumLength - 1;
  const costs = new Float64Array(minimumLength);
  const window = new SlidingWindow(values, weights, lag);
  const { low, high } = levelRange(values);
  let now = CostPieces.zero(high);
  let next = CostPieces.zero(high);

  const weightAt = (t: number) => (weights === undefined ? 1 : weights[t]);
  const lagged = (t: number, entering: number) => {
    if (entering >= 0) now.add(values[entering], weightAt(entering));
    window.moveTo(t);
    return now.findLeastWith(window, low);
  };
  for (let t = 0; t < count; t++) {
    const entering = t - lag;
    const cost = lag === 0 ? now.addAndFindLeast(values[t], weightAt(t), low) : lagged(t, entering);
    lastStart[t] = now.leastStart;
    costs[t % minimumLength] = entering >= 0 ? cost : Number.POSITIVE_INFINITY;
    if (entering < 0) continue;
    const price = costs[entering % minimumLength] + penalty;
    if (price < Number.POSITIVE_INFINITY) {
      now.offer(price, entering + 1, low, next);
      [now, next] = [next, now];
    }
  }
  return { lastStart, lastLevel: null, cost: costs[(count - 1) % minimumLength] };
}

/** Weight, mean and sum of squares of the last `length` values. */
class SlidingWindow implements LevelWindow {
  weight = 0;
  mean = 0;
  squares = 0;

  constructor(
    private readonly values: Float64Array,
    private readonly weights: Float64Array | undefined,
    private readonly length: number,
  ) {}

  moveTo(t: number): void {
    if (this.length === 0) return;
    const { values, weights } = this;
    let weightSum = 0;
    let mean = 0;
    let squares = 0;
    for (let k = Math.max(0, t - this.length + 1); k <= t; k++) {
      const weight = weights === undefined ? 1 : weights[k];
      const away = values[k] - mean;
      weightSum += weight;
      const share = (weight * away) / weightSum;
      squares += (weightSum - weight) * away * share;
      mean += share;
    }
    this.weight = weightSum;
    this.mean = mean;
    this.squares = squares;
  }
}
