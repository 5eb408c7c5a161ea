/**
 * Where a point of the reference lies in a frame: affine about a centre, with the slant of the view and what a rolling
 * shutter bends while the camera speeds up; pixels.
 *
 * With dx, dy from the centre and s = g dx + h dy:
 * x' = centreX + shiftX + (1 + a - s) dx + b dy + p dy^2, y' = centreY + shiftY + c dx + (1 + d - s) dy + q dy^2.
 */
export interface Warp {
  readonly centreX: number;
  readonly centreY: number;
  readonly shiftX: number;
  readonly shiftY: number;
  readonly a: number;
  readonly b: number;
  readonly c: number;
  readonly d: number;
  /** Slant of the view against the reference's, per pixel. */
  readonly g: number;
  readonly h: number;
  /** Bend of the rows, per pixel. */
  readonly p: number;
  readonly q: number;
}

/** The warp that moves nothing. */
export function unmoved(centreX: number, centreY: number): Warp {
  return { centreX, centreY, shiftX: 0, shiftY: 0, a: 0, b: 0, c: 0, d: 0, g: 0, h: 0, p: 0, q: 0 };
}

/** A place of the reference in the frame. */
export function warped(warp: Warp, x: number, y: number): { x: number; y: number } {
  const dx = x - warp.centreX;
  const dy = y - warp.centreY;
  const slant = warp.g * dx + warp.h * dy;
  return {
    x: warp.centreX + warp.shiftX + (1 + warp.a - slant) * dx + (warp.b + warp.p * dy) * dy,
    y: warp.centreY + warp.shiftY + warp.c * dx + (1 + warp.d - slant + warp.q * dy) * dy,
  };
}

/** Whether a warp is one that a hand-held camera makes between two frames of one clip; `lengthPx` is the dial's size. */
export function isPlausible(warp: Warp, lengthPx: number): boolean {
  const determinant = (1 + warp.a) * (1 + warp.d) - warp.b * warp.c;
  const shear = Math.hypot(warp.a - warp.d, warp.b + warp.c);
  const bend = lengthPx * Math.hypot(warp.g, warp.h, warp.p, warp.q);
  return determinant > 0.4 && determinant < 2.5 && shear < 0.35 && bend < 0.2;
}
