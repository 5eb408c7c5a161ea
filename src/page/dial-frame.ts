import type { DialPointing } from "./dial-pointing.js";

/** A part of the still, pixels. */
export interface StillFrame {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Room for the print around the marks, as a share of their reach from the pivot. */
const ROOM = 0.4;

/** What is most of the still, as a share. */
const MOST = 0.75;

/** The whole still; whole numbers are the middles of pixels. */
export function wholeFrame({ still }: DialPointing): StillFrame {
  return { x: -0.5, y: -0.5, width: still.width, height: still.height };
}

/** The part of the still that holds the whole dial; the whole still where that is most of it. */
export function dialFrame(dial: DialPointing): StillFrame {
  const { still, pivot, marks } = dial;
  const reach = Math.max(...marks.map(({ x, y }) => Math.hypot(x - pivot.x, y - pivot.y)));
  const room = ROOM * reach;
  // A scale seldom ends where the marks do: as much to the other side, and the top of its arc.
  const aside = Math.max(...marks.map(({ x }) => Math.abs(x - pivot.x)), reach / 2);
  const left = Math.max(-0.5, pivot.x - aside - room);
  const top = Math.max(-0.5, pivot.y - reach - room);
  const width = Math.min(still.width - 0.5, pivot.x + aside + room) - left;
  const height = Math.min(still.height - 0.5, Math.max(pivot.y, ...marks.map(({ y }) => y)) + room) - top;
  if (!(width > 0) || !(height > 0)) return wholeFrame(dial);
  const isBroad = width > MOST * still.width;
  if (isBroad && height > MOST * still.height) return wholeFrame(dial);
  return isBroad ? { ...wholeFrame(dial), y: top, height } : { x: left, y: top, width, height };
}
