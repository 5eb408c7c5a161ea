import type { FoundTrain } from "./search.js";
import type { OnTime } from "./switching-template.js";

/** Depths and on-times of one load's switchings differ by no more than these. Common practice, no source. */
const LIKE_DEPTH = 0.3;
const LIKE_DURATION = 1.6;

/**
 * Puts trains of like depth and like on-time together, for a hand does not keep one rhythm: the search finds the
 * switchings of one load in pieces. The strongest piece's p-value stands for all.
 */
export function mergedTrains(trains: readonly FoundTrain[]): FoundTrain[] {
  const merged: FoundTrain[] = [];
  for (const train of trains) {
    const at = merged.findIndex((one) => areLike(one, train));
    if (at < 0) {
      merged.push(train);
      continue;
    }
    const one = merged[at];
    const count = one.onTimes.length + train.onTimes.length;
    merged[at] = {
      onTimes: [...one.onTimes, ...train.onTimes].sort((a, b) => a.onsetS - b.onsetS),
      score: Math.max(one.score, train.score),
      pValue: Math.min(one.pValue, train.pValue),
      criticalShare: Math.min(one.criticalShare, train.criticalShare),
      depthV: (one.depthV * one.onTimes.length + train.depthV * train.onTimes.length) / count,
      template: one.template.map((fall, i) => fall + train.template[i]),
      columns: [...one.columns, ...train.columns],
    };
  }
  return merged;
}

function areLike(a: FoundTrain, b: FoundTrain): boolean {
  const duration = meanDurationS(a.onTimes) / meanDurationS(b.onTimes);
  return (
    Math.abs(a.depthV - b.depthV) <= LIKE_DEPTH * Math.max(a.depthV, b.depthV) &&
    duration < LIKE_DURATION &&
    duration > 1 / LIKE_DURATION
  );
}

function meanDurationS(onTimes: readonly OnTime[]): number {
  return onTimes.reduce((sum, { onsetS, releaseS }) => sum + releaseS - onsetS, 0) / onTimes.length;
}
