/** Loss of the values `[start, end)` as one segment, at the best level. */
export type SegmentLoss = (start: number, end: number) => number;

/** Least loss plus penalty over all segmentations, by plain dynamic programming over every pair of ends. */
export function leastPartitionCost(count: number, loss: SegmentLoss, penalty: number, minimumLength: number): number {
  const cost = new Array<number>(count + 1).fill(Number.POSITIVE_INFINITY);
  cost[0] = -penalty;
  for (let end = minimumLength; end <= count; end++) {
    for (let start = 0; start <= end - minimumLength; start++) {
      cost[end] = Math.min(cost[end], cost[start] + penalty + loss(start, end));
    }
  }
  return cost[count];
}

/** Weighted sum of squares about the weighted mean. */
export function squaredLoss(values: Float64Array, weights: Float64Array): SegmentLoss {
  return (start, end) => {
    let weightSum = 0;
    let sum = 0;
    for (let k = start; k < end; k++) {
      weightSum += weights[k];
      sum += weights[k] * values[k];
    }
    let squares = 0;
    for (let k = start; k < end; k++) squares += weights[k] * (values[k] - sum / weightSum) ** 2;
    return squares;
  };
}

/**
 * Weighted sum of `min(|value - level|, limit)^2` at the best level, by trying every set of values within the limit that
 * a sliding level can have.
 */
export function boundedLoss(values: Float64Array, weights: Float64Array, limit: number): SegmentLoss {
  return (start, end) => {
    const lossAt = (level: number) => {
      let sum = 0;
      for (let k = start; k < end; k++) sum += weights[k] * Math.min(Math.abs(values[k] - level), limit) ** 2;
      return sum;
    };
    const edges: number[] = [];
    for (let k = start; k < end; k++) edges.push(values[k] - limit, values[k] + limit);
    edges.sort((a, b) => a - b);
    let best = Number.POSITIVE_INFINITY;
    for (let e = 1; e < edges.length; e++) {
      const middle = (edges[e - 1] + edges[e]) / 2;
      let weightSum = 0;
      let sum = 0;
      for (let k = start; k < end; k++) {
        if (Math.abs(values[k] - middle) > limit) continue;
        weightSum += weights[k];
        sum += weights[k] * values[k];
      }
      best = Math.min(best, lossAt(middle), weightSum > 0 ? lossAt(sum / weightSum) : Number.POSITIVE_INFINITY);
    }
    return best;
  };
}
