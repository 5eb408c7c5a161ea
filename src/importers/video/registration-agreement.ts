import { contrastOf } from "./contrast-line.js";
import type { PixelArea } from "./frame.js";
import type { RegistrationTemplate } from "./registration-template.js";
import { type FramePlanes, sampleSmooth } from "./smooth-sampling.js";
import { type Warp, warped } from "./warp.js";

/**
 * Judged on block means, in which the noise of a dim picture does not pass for disagreement, with a contrast of their own:
 * a lens that hunts for focus takes more of it from pixels than from their means.
 */
export function agreement(
  template: RegistrationTemplate,
  frame: { readonly pixels: FramePlanes; readonly area: PixelArea },
  state: { readonly warp: Warp; readonly gain: number; readonly offset: number },
): { match: number; agreeing: number } {
  const points = template.coarse;
  const references = new Float64Array(points.pointCount);
  const values = new Float64Array(points.pointCount);
  let count = 0;
  let mean = 0;
  for (let index = 0; index < points.pointCount; index++) {
    const place = warped(
      state.warp,
      template.centreX + points.fromCentreX[index]!,
      template.centreY + points.fromCentreY[index]!,
    );
    const value = sampleSmooth(
      frame.pixels.quarter,
      (place.x - frame.area.x - 1.5) / 4,
      (place.y - frame.area.y - 1.5) / 4,
    );
    if (Number.isNaN(value)) continue;
    mean += points.values[index]!;
    references[count] = points.values[index]!;
    values[count++] = value;
  }
  mean /= Math.max(1, count);
  const line = contrastOf(references.subarray(0, count), values.subarray(0, count), state);
  let contrast = 0;
  for (let index = 0; index < count; index++) contrast += Math.abs(references[index]! - mean);
  contrast *= Math.abs(line.gain) / Math.max(1, count);
  const residual = 1.48 * (line.errors[count >> 1] ?? 0);
  const limit = Math.min(Math.max(4 * residual, 0.35 * contrast), 0.6 * contrast);
  let within = 0;
  while (within < count && line.errors[within]! < limit) within++;
  return {
    match: contrast > 0 && line.gain > 0 ? 1 - residual / contrast : 0,
    agreeing: within / Math.max(1, points.pointCount),
  };
}
