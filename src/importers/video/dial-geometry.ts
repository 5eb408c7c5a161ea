/** A place in the reference picture, coded orientation, pixels. */
export interface Place {
  readonly x: number;
  readonly y: number;
}

/** The needle in the reference picture. Angles run clockwise from the x axis, radians. */
export interface NeedleLine {
  readonly angleRad: number;
  /** Radii between which it is read. */
  readonly innerPx: number;
  readonly outerPx: number;
  /** Half of its width, pixels. */
  readonly halfWidthPx: number;
  readonly tone: "dark" | "light";
}

/** The smallest turn from one angle to another, radians from -pi to pi. */
export function turnBetween(fromRad: number, toRad: number): number {
  const turn = (toRad - fromRad) % (2 * Math.PI);
  return turn > Math.PI ? turn - 2 * Math.PI : turn < -Math.PI ? turn + 2 * Math.PI : turn;
}
