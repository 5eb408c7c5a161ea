import type { PixelArea } from "./frame.js";
import type { RegistrationStart } from "./registration.js";
import type { RegistrationTemplate } from "./registration-template.js";
import type { FramePlanes } from "./smooth-sampling.js";

/**
 * Where the dial may have gone after a jump: the shift, on a grid of 4 pixels about the last one, at which the reference's
 * points match the frame best, as a start for `registerFrame`. Null when no shift within `reachPx` matches.
 */
export function reacquire(
  template: RegistrationTemplate,
  frame: { readonly pixels: FramePlanes; readonly area: PixelArea },
  last: RegistrationStart,
  reachPx: number,
): RegistrationStart | null {
  const { coarse } = template;
  const { quarter } = frame.pixels;
  const { a, b, c, d, shiftX, shiftY } = last.warp;
  const columns = new Int32Array(coarse.pointCount);
  const rows = new Int32Array(coarse.pointCount);
  let best = { score: 0.45, shiftX: 0, shiftY: 0 };
  for (let index = 0; index < coarse.pointCount; index++) {
    const dx = coarse.fromCentreX[index]!;
    const dy = coarse.fromCentreY[index]!;
    columns[index] = Math.round((template.centreX + shiftX - frame.area.x + (1 + a) * dx + b * dy - 1.5) / 4);
    rows[index] = Math.round((template.centreY + shiftY - frame.area.y + c * dx + (1 + d) * dy - 1.5) / 4);
  }
  const reach = Math.ceil(reachPx / 4);
  for (let down = -reach; down <= reach; down++) {
    for (let right = -reach; right <= reach; right++) {
      const score = correlation(coarse.values, quarter, columns, rows, right, down);
      if (score > best.score) best = { score, shiftX: shiftX + 4 * right, shiftY: shiftY + 4 * down };
    }
  }
  if (best.score <= 0.45) return null;
  return { ...last, warp: { ...last.warp, shiftX: best.shiftX, shiftY: best.shiftY }, residual: 2 * last.residual };
}

function correlation(
  reference: Float64Array,
  plane: FramePlanes["quarter"],
  columns: Int32Array,
  rows: Int32Array,
  right: number,
  down: number,
): number {
  let [count, sumR, sumV, sumRR, sumVV, sumRV] = [0, 0, 0, 0, 0, 0];
  for (let index = 0; index < reference.length; index++) {
    const column = columns[index]! + right;
    const row = rows[index]! + down;
    if (column < 0 || row < 0 || column >= plane.width || row >= plane.height) continue;
    const value = plane.values[row * plane.stride + column]!;
    const wanted = reference[index]!;
    count++;
    sumR += wanted;
    sumV += value;
    sumRR += wanted * wanted;
    sumVV += value * value;
    sumRV += wanted * value;
  }
  if (count < 0.5 * reference.length) return 0;
  const spread = (sumRR - (sumR * sumR) / count) * (sumVV - (sumV * sumV) / count);
  return spread > 0 ? (sumRV - (sumR * sumV) / count) / Math.sqrt(spread) : 0;
}
