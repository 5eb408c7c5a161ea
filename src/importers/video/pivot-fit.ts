import { type Place, turnBetween } from "./dial-geometry.js";
import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";
import type { GrayPlane } from "./smooth-sampling.js";
import { strokeLine } from "./stroke-lines.js";

/** A pivot and how well it is known along the needle. */
export interface FittedPivot extends Place {
  readonly uAlongPx: number;
}

/** A stroke of the scale as seen from a trial pivot. */
export interface SeenStroke {
  readonly angleRad: number;
  readonly radiusPx: number;
  readonly tone: "dark" | "light";
}

/** How far off the pivot that was pointed out or searched for may lie, standard uncertainty along each axis, pixels. */
const START_U_PX = 3;
/** The same of the needle's axis, which its shadow pulls to one side. */
const NEEDLE_U_PX = 0.3;
/** Strokes this near the needle are partly hidden by it or its shadow. */
const BESIDE_NEEDLE_RAD = 0.06;

/**
 * The point to which the printed strokes run, by one fit of their axes, the needle's axis and the place pointed out, each
 * weighted by its doubt.
 *
 * `on` lies on the needle's axis, which runs at `needleRad`.
 */
export function fittedPivot(
  plane: GrayPlane,
  on: Place,
  needleRad: number,
  pointedOut: Place,
  strokes: readonly SeenStroke[],
): FittedPivot {
  const lines = strokes
    .filter((stroke) => Math.abs(turnBetween(stroke.angleRad, needleRad)) > BESIDE_NEEDLE_RAD)
    .map((stroke) => strokeLine(plane, on, stroke))
    .filter((line) => line !== null);
  const normal = (angleRad: number) => [-Math.sin(angleRad), Math.cos(angleRad)];
  let moved = new Float64Array(2);
  let inverse: Float64Array | null = null;
  let excess = 1;
  for (let round = 0; round < 8; round++) {
    const sums = emptyEquations(2);
    addEquation(sums, [1, 0], pointedOut.x - on.x, 1 / START_U_PX ** 2);
    addEquation(sums, [0, 1], pointedOut.y - on.y, 1 / START_U_PX ** 2);
    addEquation(sums, normal(needleRad), 0, 1 / NEEDLE_U_PX ** 2);
    let left = 0;
    for (const { angleRad, sidePx, uSidePx } of lines) {
      const row = normal(angleRad);
      const beyond = (sidePx - row[0]! * moved[0]! - row[1]! * moved[1]!) / uSidePx;
      const weight = 1 / (1 + (beyond / 3) ** 2);
      addEquation(sums, row, sidePx, weight / uSidePx ** 2);
      left += weight * beyond ** 2;
    }
    const solved = solveEquations(sums);
    if (solved === null) break;
    moved = Float64Array.from(solved.solution);
    inverse = solved.inverse;
    excess = Math.max(1, left / Math.max(1, lines.length - 2));
  }
  const along = [Math.cos(needleRad), Math.sin(needleRad)];
  const variance =
    inverse === null
      ? START_U_PX ** 2
      : along[0]! ** 2 * inverse[0]! + 2 * along[0]! * along[1]! * inverse[1]! + along[1]! ** 2 * inverse[3]!;
  return { x: on.x + moved[0]!, y: on.y + moved[1]!, uAlongPx: Math.min(START_U_PX, Math.sqrt(variance * excess)) };
}
