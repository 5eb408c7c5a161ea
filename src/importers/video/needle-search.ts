import { needlePatch, type PolarGrid, type PolarView } from "./needle-patch.js";
import type { NeedleProfile } from "./needle-profile.js";
import type { Warp } from "./warp.js";

/** Steps of the angles all around the dial at which something like the needle stands, best first, at most three. */
export function searchNeedle(frame: PolarView, warp: Warp, grid: PolarGrid, profile: NeedleProfile): number[] {
  const around = Math.floor((2 * Math.PI) / grid.stepRad);
  const thinned: PolarGrid = {
    ...grid,
    bandRadiiPx: grid.bandRadiiPx.map((radii) => radii.subarray(radii.length >> 1, (radii.length >> 1) + 1)),
  };
  const ring = needlePatch(frame, warp, thinned, { firstStep: 0, stepCount: around });
  const scores = new Float64Array(around);
  for (let step = 0; step < around; step++) scores[step] = likeness(ring.values, around, profile, step);
  const found: number[] = [];
  const apart = Math.max(8, profile.centreIndex >> 1);
  while (found.length < 3) {
    let best = -1;
    for (let step = 0; step < around; step++) {
      if (scores[step]! > (best < 0 ? 0.5 : scores[best]!)) best = step;
    }
    if (best < 0) break;
    found.push(best);
    for (let offset = -apart; offset <= apart; offset++) scores[(best + offset + around) % around] = 0;
  }
  return found;
}

/** Correlation of the profile with the ring at a step, each band about its own mean. */
function likeness(values: Float32Array, around: number, profile: NeedleProfile, step: number): number {
  let [products, ringSquares, profileSquares] = [0, 0, 0];
  for (let band = 0; band < profile.bandCount; band++) {
    const from = profile.from[band]!;
    const to = profile.to[band]!;
    let [sumR, sumP, sumRR, sumPP, sumRP, count] = [0, 0, 0, 0, 0, 0];
    for (let index = from; index <= to; index += 2) {
      const at = (step + index - profile.centreIndex + around) % around;
      const value = values[band * around + at]!;
      if (Number.isNaN(value)) return 0;
      const wanted = profile.values[band * profile.stepCount + index]!;
      count++;
      sumR += value;
      sumP += wanted;
      sumRR += value * value;
      sumPP += wanted * wanted;
      sumRP += value * wanted;
    }
    products += sumRP - (sumR * sumP) / count;
    ringSquares += sumRR - (sumR * sumR) / count;
    profileSquares += sumPP - (sumP * sumP) / count;
  }
  return ringSquares > 0 && profileSquares > 0 ? products / Math.sqrt(ringSquares * profileSquares) : 0;
}
