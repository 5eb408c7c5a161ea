import type { LumaFrame, PixelArea } from "./frame.js";
import type { FollowedFrame } from "./frame-follower.js";
import type { PolarGrid } from "./needle-patch.js";
import { warped } from "./warp.js";

/** Mean sizes by which a frame differs from the one before, gray levels of 8 bit: all over, and about the needle. */
export interface PictureChange {
  readonly whole: number;
  readonly needle: number;
}

/**
 * Up to so much a codec alone changes a picture that is written down once more; what it writes of a new one, with its own
 * sensor noise, changes by more (DEVELOPERS.md, Reading a needle).
 */
const CODED_ANEW: PictureChange = { whole: 0.15, needle: 0.4 };
/** Pixels that are compared all over lie so far apart. */
const APART_PX = 4;
/** How far to either side of its axis the needle's surroundings reach, half widths of it, and places across. */
const REACH = 2;
const ACROSS = 9;
/** Where repeats reach over so long about one picture that differs, s, it is taken for the same one, written down anew. */
const STANDS_STILL_S = 0.5;

/**
 * Watches how much each frame differs from the one before; the first from none. Where the whole is sure to differ by more than a
 * codec makes, the rest is not looked at: it differs by no less, and about the needle by any size.
 */
export function changeWatch(
  area: PixelArea,
  grid: PolarGrid,
  halfWidthPx: number,
): (frame: LumaFrame, followed: FollowedFrame) => PictureChange {
  let before = new Uint8Array(0);
  return ({ luma, stride, width, height }, followed) => {
    const change = { whole: Number.POSITIVE_INFINITY, needle: Number.POSITIVE_INFINITY };
    if (before.length === stride * height) {
      change.whole = changeAllOver(luma, before, { stride, width, height });
      if (change.whole < CODED_ANEW.whole) {
        const places = placesAboutNeedle(followed, grid, halfWidthPx)
          .map(({ x, y }) => ({ x: Math.round(x - area.x), y: Math.round(y - area.y) }))
          .filter(({ x, y }) => x >= 0 && y >= 0 && x < width && y < height)
          .map(({ x, y }) => y * stride + x);
        change.needle = places.reduce((all, at) => all + Math.abs(luma[at]! - before[at]!), 0) / places.length;
      }
    } else before = new Uint8Array(stride * height);
    before.set(luma.subarray(0, before.length));
    return change;
  };
}

/** Mean size of the change, or the part of it that is already too much. */
function changeAllOver(
  luma: Uint8Array,
  before: Uint8Array,
  { stride, width, height }: Pick<LumaFrame, "stride" | "width" | "height">,
): number {
  const count = Math.ceil(width / APART_PX) * Math.ceil(height / APART_PX);
  let sum = 0;
  for (let y = 0; y < height && sum < CODED_ANEW.whole * count; y += APART_PX) {
    for (let at = y * stride; at < y * stride + width; at += APART_PX) sum += Math.abs(luma[at]! - before[at]!);
  }
  return sum / count;
}

function placesAboutNeedle(
  { registration, fit }: FollowedFrame,
  { pivotX, pivotY, stepRad, bandRadiusPx }: PolarGrid,
  halfWidthPx: number,
): { x: number; y: number }[] {
  if (registration === null || fit === null) return [];
  const [cos, sin] = [Math.cos(fit.step * stepRad), Math.sin(fit.step * stepRad)];
  return Array.from(bandRadiusPx).flatMap((radiusPx) =>
    Array.from({ length: ACROSS }, (_, index) => {
      const asidePx = REACH * halfWidthPx * ((2 * index) / (ACROSS - 1) - 1);
      return warped(
        registration.warp,
        pivotX + radiusPx * cos - asidePx * sin,
        pivotY + radiusPx * sin + asidePx * cos,
      );
    }),
  );
}

/**
 * Which frames show the picture before once more, as where a busy phone or a converter repeats pictures: such a frame is no
 * new look at the needle, and many of them pass for a needle that stands still. Codecs write a picture down anew every
 * second or so: one that differs beside or between long repeats is left out with them, and if it was the first of new ones,
 * one is not missed.
 */
export function repeatedPictures(timesS: readonly number[], changes: readonly PictureChange[]): boolean[] {
  const repeats = changes.map(({ whole, needle }) => whole < CODED_ANEW.whole && needle < CODED_ANEW.needle);
  return repeats.map((isRepeat, index) => {
    if (isRepeat) return true;
    let [first, last] = [index, index];
    while (repeats[first - 1] === true) first--;
    while (repeats[last + 1] === true) last++;
    return timesS[last]! - timesS[first]! > STANDS_STILL_S;
  });
}
