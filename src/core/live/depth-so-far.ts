import type { OnTime } from "../detection/switching-template.js";
import type { Uncertain } from "../quantity/quantity.js";
import { squared } from "../statistics/portable-power.js";

/** Means of short blocks of readings, ascending times. */
export interface BlockMeans {
  readonly timesS: readonly number[];
  readonly meansV: readonly number[];
}

/** Longest stretch beside and inside an on-time that is looked at, seconds. */
const LONGEST_S = 10;
/** Kept clear of every switching for the lag of meter and hand, seconds. */
const CLEAR_S = 0.5;

/**
 * First look at a load's depth while the recording still runs: level beside its on-times less the level within, volts.
 *
 * Blind to drift, settling and other loads; no verdict rests on it. The uncertainty is the larger of the scatter within
 * the stretches, widened for the correlation of neighbouring blocks, and the scatter between the switchings. Null where
 * no on-time has two blocks on either side yet.
 */
export function depthSoFar(blocks: BlockMeans, onTimes: readonly OnTime[]): Uncertain | null {
  const looks = onTimes.flatMap((onTime) => lookAt(blocks, onTime) ?? []);
  const count = looks.length;
  if (count === 0) return null;
  const value = looks.reduce((sum, look) => sum + look.value, 0) / count;
  const within = Math.sqrt(looks.reduce((sum, look) => sum + squared(look.u), 0)) / count;
  const squares = looks.reduce((sum, look) => sum + squared(look.value - value), 0);
  const between = count < 3 ? 0 : Math.sqrt(squares / (count - 1) / count);
  return { value, u: Math.max(within, between) };
}

function lookAt(blocks: BlockMeans, { onsetS, releaseS }: OnTime): Uncertain | null {
  const stretchS = Math.min(LONGEST_S, Math.max(2, releaseS - onsetS));
  const before = between(blocks, onsetS - CLEAR_S - stretchS, onsetS - CLEAR_S);
  const on = between(blocks, onsetS + CLEAR_S, Math.min(onsetS + CLEAR_S + stretchS, releaseS - CLEAR_S / 2));
  const after = between(blocks, releaseS + CLEAR_S, releaseS + CLEAR_S + stretchS);
  const off = [...before, ...after];
  if (on.length < 2 || before.length < 2) return null;
  const spread = [before, on, after].flatMap((part) => part.map((v) => v - mean(part)));
  const parts = 2 + (after.length > 0 ? 1 : 0);
  const variance = spread.reduce((sum, v) => sum + v * v, 0) / Math.max(1, spread.length - parts);
  const neighbours = spread.slice(1).reduce((sum, v, k) => sum + v * spread[k], 0);
  const correlation = Math.min(0.9, Math.max(0, neighbours / (variance * spread.length || 1)));
  const widening = (1 + correlation) / (1 - correlation);
  return { value: mean(off) - mean(on), u: Math.sqrt(variance * widening * (1 / on.length + 1 / off.length)) };
}

function between({ timesS, meansV }: BlockMeans, fromS: number, toS: number): number[] {
  const found: number[] = [];
  for (let k = firstFrom(timesS, fromS); k < timesS.length && timesS[k] < toS; k++) found.push(meansV[k]);
  return found;
}

function firstFrom(timesS: readonly number[], fromS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle] < fromS) low = middle + 1;
    else high = middle;
  }
  return low;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
