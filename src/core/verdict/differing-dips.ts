import { agreement, type SingleDip } from "../detection/single-dips.js";
import type { Quantity } from "../quantity/quantity.js";
import { chiSquareSurvival, normalQuantile, studentTQuantile } from "../statistics/distribution.js";
import { squared } from "../statistics/portable-power.js";

/** Chance that switchings which are alike are taken to differ. */
const DIFFERENT = 0.01;

/**
 * Depth in volts whose interval reckons with switchings that differ by more than their noise.
 *
 * Something else then moved the needle during some of them, or the load does not draw the same each time: the noise alone
 * says nothing of how far the mean is off. The interval becomes the narrower of two: the t interval of the depths' own
 * scatter, and the hull of the switchings' intervals, which holds as long as one of them shows the load alone. Unchanged
 * where the depths agree (chi-square, 1 %), and never narrowed.
 *
 * Source: JCGM 100:2008, 4.2.3 and G.3 (scatter of repeated observations); the hull is our own.
 */
export function spanningDips(depth: Quantity<"V">, dips: readonly SingleDip[]): Quantity<"V"> {
  const n = dips.length;
  if (n < 2 || chiSquareSurvival(agreement(dips).chiSquare, n - 1) > DIFFERENT) return depth;
  const wide = normalQuantile((1 + depth.coverage) / 2);
  const plain = dips.reduce((sum, { depthV }) => sum + depthV, 0) / n;
  const variance = dips.reduce((sum, { depthV }) => sum + squared(depthV - plain), 0) / (n - 1);
  const half = studentTQuantile((1 + depth.coverage) / 2, n - 1) * Math.sqrt(variance / n);
  const hull = {
    low: Math.min(...dips.map(({ depthV, uDepthV }) => depthV - wide * uDepthV)),
    high: Math.max(...dips.map(({ depthV, uDepthV }) => depthV + wide * uDepthV)),
  };
  const scattered = { low: depth.value - half, high: depth.value + half };
  const chosen = hull.high - hull.low < 2 * half ? hull : scattered;
  const low = Math.min(depth.low, chosen.low);
  const high = Math.max(depth.high, chosen.high);
  return { ...depth, low, high, u: Math.max(depth.u, (high - low) / (2 * wide)) };
}
