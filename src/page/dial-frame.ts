import type { DialPointing } from "./dial-pointing.js";

/** A part of the still, pixels. */
export interface StillFrame {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Room around pivot and marks, as a share of their spread. */
const ROOM = 0.4;

/** The whole still; whole numbers are the middles of pixels. */
export function wholeFrame({ still }: DialPointing): StillFrame {
  return { x: -0.5, y: -0.5, width: still.width, height: still.height };
}

/** The part of the still around pivot and marks; the whole still where that is most of it. */
export function dialFrame(dial: DialPointing): StillFrame {
  const { still, pivot, marks } = dial;
  const xs = [pivot, ...marks].map(({ x }) => x);
  const ys = [pivot, ...marks].map(({ y }) => y);
  const room = ROOM * Math.max(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
  const left = Math.max(-0.5, Math.min(...xs) - room);
  const top = Math.max(-0.5, Math.min(...ys) - room);
  const width = Math.min(still.width - 0.5, Math.max(...xs) + room) - left;
  const height = Math.min(still.height - 0.5, Math.max(...ys) + room) - top;
  if (!(width > 0) || !(height > 0) || width > 0.75 * still.width) return wholeFrame(dial);
  return { x: left, y: top, width, height };
}
