import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";

/** How far the needle shifts sideways per pixel that the camera's aim moves; dimensionless. */
export interface Parallax {
  readonly perX: number;
  readonly perY: number;
  readonly uPerX: number;
  readonly uPerY: number;
}

/** A needle above the dial at this fraction of the distance to the camera would be a strange instrument. */
const USUAL_PARALLAX = 0.01;

/**
 * Regression of the needle's sideways shift on the movement of the dial in the picture, held near zero by what is usual.
 *
 * The shift is far too noisy frame by frame to be used itself; over the clip the two coefficients are well known.
 */
export function parallaxOf(
  lateralPx: ArrayLike<number>,
  movedX: ArrayLike<number>,
  movedY: ArrayLike<number>,
): Parallax {
  const count = lateralPx.length;
  if (count < 10) return { perX: 0, perY: 0, uPerX: USUAL_PARALLAX, uPerY: USUAL_PARALLAX };
  let variance = robustVariance(lateralPx);
  let solved: ReturnType<typeof solveEquations> = null;
  for (let round = 0; round < 3; round++) {
    // Errors of neighbouring frames are alike: ten frames count as one.
    const unit = 1 / (10 * variance);
    const sums = emptyEquations(3);
    let left = 0;
    let used = 0;
    for (let index = 0; index < count; index++) {
      const row = [1, movedX[index]!, movedY[index]!];
      const predicted =
        solved === null
          ? robustMiddle(lateralPx)
          : row.reduce((sum, part, at) => sum + part * solved!.solution[at]!, 0);
      const error = lateralPx[index]! - predicted;
      const weight = 1 / (1 + (error * error) / (6 * variance));
      addEquation(sums, row, lateralPx[index]!, weight * unit);
      left += weight * error * error;
      used += weight;
    }
    sums.matrix[0]! += 1e-9;
    sums.matrix[4]! += 1 / USUAL_PARALLAX ** 2;
    sums.matrix[8]! += 1 / USUAL_PARALLAX ** 2;
    const next = solveEquations(sums);
    if (next === null) break;
    solved = next;
    if (round > 0) variance = Math.max(left / used, 1e-12);
  }
  if (solved === null) return { perX: 0, perY: 0, uPerX: USUAL_PARALLAX, uPerY: USUAL_PARALLAX };
  return {
    perX: solved.solution[1]!,
    perY: solved.solution[2]!,
    uPerX: Math.sqrt(solved.inverse[4]!),
    uPerY: Math.sqrt(solved.inverse[8]!),
  };
}

function robustMiddle(values: ArrayLike<number>): number {
  return Float64Array.from(values).sort()[values.length >> 1]!;
}

function robustVariance(values: ArrayLike<number>): number {
  const middle = robustMiddle(values);
  const spread = robustMiddle(Float64Array.from(values, (value) => Math.abs(value - middle)));
  return Math.max((1.48 * spread) ** 2, 1e-12);
}
