import type { Place } from "./dial-geometry.js";
import type { MeasuredNeedle } from "./needle-line.js";
import { needlePatch, polarGrid } from "./needle-patch.js";
import { type GrayPlane, raySource } from "./smooth-sampling.js";
import { unmoved } from "./warp.js";

const BANDS = 16;
/** How far beside the needle another is looked for, radians; farther off it is a radial line of its own. */
const REACH_RAD = 0.12;
/** Contrast of the other line against the needle's, and how far the picture must fall back between the two. */
const LEAST_CONTRAST = 0.35;
const MOST_BETWEEN = 0.7;
/** Bands in which it must stand, and how straight. */
const LEAST_BANDS = 5;
const STRAIGHT_PX = 0.8;

/**
 * Whether a second line of the needle's tone runs close beside it from the same pivot: another needle, or a pointer set by
 * hand. A shadow runs beside the needle at one distance, and is none.
 */
export function hasTwin(plane: GrayPlane, { needle, pivot }: MeasuredNeedle): boolean {
  const { ranges, half } = rowsAbout(plane, pivot, needle);
  return [1, -1].some((side) => {
    const places = ranges.flatMap(({ row, radiusPx, stepPx }) => {
      const column = secondPeak(row, half, side);
      return column === null ? [] : [{ radiusPx, asidePx: (column - half) * stepPx }];
    });
    return runFromPivot(places);
  });
}

function rowsAbout(plane: GrayPlane, pivot: Place, needle: MeasuredNeedle["needle"]) {
  const grid = polarGrid(pivot, needle.innerPx, needle.outerPx, 1, BANDS);
  const half = Math.round(REACH_RAD / grid.stepRad);
  const stepCount = 2 * half + 1;
  const area = { x: 0, y: 0, width: plane.width, height: plane.height };
  const firstStep = Math.round(needle.angleRad / grid.stepRad) - half;
  const patch = needlePatch({ pixels: raySource({ full: plane }), area }, unmoved(pivot.x, pivot.y), grid, {
    firstStep,
    stepCount,
  });
  const sign = needle.tone === "dark" ? -1 : 1;
  const ranges = Array.from({ length: BANDS }, (_, band) => {
    const values = patch.values.subarray(band * stepCount, (band + 1) * stepCount);
    const level = Float32Array.from(values).sort()[half]!;
    const radiusPx = grid.bandRadiusPx[band]!;
    return { row: values.map((value) => sign * (value - level)), radiusPx, stepPx: radiusPx * grid.stepRad };
  });
  return { ranges, half };
}

/** The strongest peak to one side, beyond a dip of the row, if it stands out clearly against the needle's. */
function secondPeak(row: Float32Array, centre: number, side: number): number | null {
  let [least, best, at] = [row[centre]!, 0, -1];
  for (let column = centre + side; column > 0 && column < row.length - 1; column += side) {
    const value = row[column]!;
    if (value > best && least < MOST_BETWEEN * Math.min(value, row[centre]!)) [best, at] = [value, column];
    least = Math.min(least, value);
  }
  return best >= LEAST_CONTRAST * row[centre]! && row[centre]! > 0 ? at : null;
}

/** Whether places lie on a line through the pivot rather than on one along the needle. */
function runFromPivot(places: readonly { readonly radiusPx: number; readonly asidePx: number }[]): boolean {
  if (places.length < LEAST_BANDS) return false;
  const middle = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1]!;
  const turn = middle(places.map(({ radiusPx, asidePx }) => asidePx / radiusPx));
  const straight = places.filter(({ radiusPx, asidePx }) => Math.abs(asidePx - turn * radiusPx) < STRAIGHT_PX);
  if (straight.length < LEAST_BANDS) return false;
  const distance = middle(straight.map(({ asidePx }) => asidePx));
  const squares = (off: (place: { radiusPx: number; asidePx: number }) => number) =>
    straight.reduce((sum, place) => sum + off(place) ** 2, 0);
  const fromPivot = squares(({ radiusPx, asidePx }) => asidePx - turn * radiusPx);
  return fromPivot < 0.5 * squares(({ asidePx }) => asidePx - distance);
}
