/**
 * Where a point of the reference lies in a frame, pixels: affine about a centre, with what the slant of the view and a
 * rolling shutter (whose rows the camera's shift, turn and zoom reach at different moments) bend.
 *
 * With dx, dy from the centre:
 * x' = centreX + shiftX + (1 + a) dx + b dy + e dx^2 + m dx dy + p dy^2,
 * y' = centreY + shiftY + c dx + (1 + d) dy + n dx dy + q dy^2.
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
  /** Bends, per pixel. */
  readonly e: number;
  readonly m: number;
  readonly p: number;
  readonly n: number;
  readonly q: number;
}

/** The warp that moves nothing. */
export function unmoved(centreX: number, centreY: number): Warp {
  return { centreX, centreY, shiftX: 0, shiftY: 0, a: 0, b: 0, c: 0, d: 0, e: 0, m: 0, p: 0, n: 0, q: 0 };
}

/** A place of the reference in the frame. */
export function warped(warp: Warp, x: number, y: number): { x: number; y: number } {
  const dx = x - warp.centreX;
  const dy = y - warp.centreY;
  return {
    x: warp.centreX + warp.shiftX + (1 + warp.a + warp.e * dx + warp.m * dy) * dx + (warp.b + warp.p * dy) * dy,
    y: warp.centreY + warp.shiftY + (warp.c + warp.n * dy) * dx + (1 + warp.d + warp.q * dy) * dy,
  };
}

/** Whether a warp is one that a hand-held camera makes between two frames of one clip; `lengthPx` is the dial's size. */
export function isPlausible(warp: Warp, lengthPx: number): boolean {
  const determinant = (1 + warp.a) * (1 + warp.d) - warp.b * warp.c;
  const shear = Math.hypot(warp.a - warp.d, warp.b + warp.c);
  const bend = lengthPx * Math.hypot(warp.e, warp.m, warp.p, warp.n, warp.q);
  return determinant > 0.4 && determinant < 2.5 && shear < 0.35 && bend < 0.2;
}

/** A warp's shift, affine part and bends, pixels at a distance of `lengthPx` from its centre. */
export function warpParts({ shiftX, shiftY, a, b, c, d, e, m, p, n, q }: Warp, lengthPx: number): number[] {
  const bends = [e, m, p, n, q].map((bend) => bend * lengthPx ** 2);
  return [shiftX, shiftY, a * lengthPx, b * lengthPx, c * lengthPx, d * lengthPx, ...bends];
}

/** The warp about the same centre with these parts. */
export function warpOf(centre: Pick<Warp, "centreX" | "centreY">, parts: ArrayLike<number>, lengthPx: number): Warp {
  const [affine, bend] = [(at: number) => parts[at]! / lengthPx, (at: number) => parts[at]! / lengthPx ** 2];
  return {
    ...{ centreX: centre.centreX, centreY: centre.centreY, shiftX: parts[0]!, shiftY: parts[1]! },
    ...{ a: affine(2), b: affine(3), c: affine(4), d: affine(5) },
    ...{ e: bend(6), m: bend(7), p: bend(8), n: bend(9), q: bend(10) },
  };
}
