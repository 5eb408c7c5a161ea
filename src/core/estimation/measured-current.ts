import type { OnTime } from "../detection/switching-template.js";
import { firstAtOrAfter } from "../detection/switching-template.js";
import type { LoadKind } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { CurrentSeries } from "../series/recording.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { currentNoise } from "./current-step.js";
import { settlingExcess } from "./settled-current.js";

/** Standard uncertainty of the gain of a current clamp where it is not told. Common practice, no source. */
export const CLAMP_GAIN_FRACTION = 0.01;

/** Shares of an on-time between which its current is taken. */
const HELD = { from: 0.4, to: 0.9 } as const;

/** Change of the measured current that a load makes. */
export interface MeasuredChange extends Uncertain {
  /** Whether the file counts discharge as positive; found from the dip of the voltage by the caller. */
  readonly sign: 1 | -1;
}

/**
 * Mean change of the measured current while a load is on, amperes; a clamp's zero offset cancels.
 *
 * The later part of each on-time (past four tenths of it, edges left out) is set against the readings of the same length
 * before and after; what the current may still settle by in it, as that of a load of its kind does, is taken off. Standard
 * uncertainty from the scatter between switchings and from noise, settling, display step and the clamp's gain.
 * Null where fewer than two readings stand on either side of every switching.
 */
export function measuredChange(
  current: CurrentSeries,
  onTimes: readonly OnTime[],
  kind: LoadKind | null,
): MeasuredChange | null {
  const held: { readonly k: number; readonly changeA: number }[] = [];
  const { sigmaA, quantumA } = currentNoise(current.currentsA);
  let variance = 0;
  onTimes.forEach(({ onsetS, releaseS }, k) => {
    const durationS = releaseS - onsetS;
    const edgeS = 0.1 * durationS;
    const beforeFloorS = k === 0 ? Number.NEGATIVE_INFINITY : onTimes[k - 1].releaseS + edgeS;
    const afterCeilingS = k + 1 < onTimes.length ? onTimes[k + 1].onsetS - edgeS : Number.POSITIVE_INFINITY;
    const on = meanBetween(current, onsetS + HELD.from * durationS, onsetS + HELD.to * durationS);
    const before = meanBetween(current, Math.max(onsetS - durationS, beforeFloorS), onsetS - edgeS);
    const after = meanBetween(current, releaseS + edgeS, Math.min(releaseS + durationS, afterCeilingS));
    const off = before.count + after.count;
    if (on.count < 2 || off < 2) return;
    const offMean = (before.sum + after.sum) / off;
    held.push({ k, changeA: on.sum / on.count - offMean });
    variance += squared(sigmaA) * (1 / on.count + 1 / off);
  });
  const count = held.length;
  if (count === 0) return null;
  const roughA = held.reduce((sum, { changeA }) => sum + changeA, 0) / count;
  const settling = settlingExcess(current, onTimes, { ...HELD, changeA: roughA }, kind);
  const changes = held.map(({ k, changeA }) => changeA - (settling?.excessA[k] ?? 0));
  const mean = changes.reduce((sum, change) => sum + change, 0) / count;
  const between =
    count < 2 ? 0 : changes.reduce((sum, change) => sum + squared(change - mean), 0) / (count - 1) / count;
  const u = rootSumSquares(
    Math.sqrt(Math.max(variance / squared(count), between)),
    settling?.uA ?? 0,
    quantumA / Math.sqrt(6),
    CLAMP_GAIN_FRACTION * mean,
  );
  return { value: Math.abs(mean), u, sign: mean >= 0 ? 1 : -1 };
}

function meanBetween(current: CurrentSeries, startS: number, endS: number): { sum: number; count: number } {
  let sum = 0;
  let count = 0;
  for (let i = firstAtOrAfter(current.timesS, startS); i < current.timesS.length && current.timesS[i] < endS; i++) {
    sum += current.currentsA[i];
    count += 1;
  }
  return { sum, count };
}
