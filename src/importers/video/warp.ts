/**
 * Where a point of the reference lies in a frame: affine about a centre, in pixels.
 *
 * x' = centreX + shiftX + (1 + a) dx + b dy, y' = centreY + shiftY + c dx + (1 + d) dy, with dx, dy from the centre.
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
}

/** The warp that moves nothing. */
export function unmoved(centreX: number, centreY: number): Warp {
  return { centreX, centreY, shiftX: 0, shiftY: 0, a: 0, b: 0, c: 0, d: 0 };
}

/** A place of the reference in the frame. */
export function warped(warp: Warp, x: number, y: number): { x: number; y: number } {
  const dx = x - warp.centreX;
  const dy = y - warp.centreY;
  return {
    x: warp.centreX + warp.shiftX + (1 + warp.a) * dx + warp.b * dy,
    y: warp.centreY + warp.shiftY + warp.c * dx + (1 + warp.d) * dy,
  };
}

/** The same warp seen in a picture whose pixel (0, 0) lies at (x, y) and whose pixels are `factor` wide. */
export function warpInCrop(warp: Warp, x: number, y: number, factor = 1): Warp {
  return {
    ...warp,
    centreX: (warp.centreX - x - (factor - 1) / 2) / factor,
    centreY: (warp.centreY - y - (factor - 1) / 2) / factor,
    shiftX: warp.shiftX / factor,
    shiftY: warp.shiftY / factor,
  };
}

/** Whether a warp is one that a hand-held camera makes between two frames of one clip. */
export function isPlausible(warp: Warp): boolean {
  const determinant = (1 + warp.a) * (1 + warp.d) - warp.b * warp.c;
  const shear = Math.hypot(warp.a - warp.d, warp.b + warp.c);
  return determinant > 0.4 && determinant < 2.5 && shear < 0.35;
}
