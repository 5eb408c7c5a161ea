import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";

/** How far the needle shifts sideways per pixel that the camera's aim moves; dimensionless. */
export interface Parallax {
  readonly perX: number;
  readonly perY: number;
}

/** What a frame tells about parallax; lengths in pixels. */
export interface ParallaxClue {
  /** Sideways shift of the whole needle, fitted freely beside its turn: sure on average, rough in one frame. */
  readonly lateralPx: number;
  /** The needle's turn with no shift allowed, as the shift that would pass for it: precise, but the bus turns it too. */
  readonly turnPx: number;
  /** Movement of the dial in the picture. */
  readonly movedX: number;
  readonly movedY: number;
}

/** A needle above the dial at this fraction of the distance to the camera would be a strange instrument. */
const USUAL_PARALLAX = 0.01;
/** Errors of neighbouring frames are alike: this many frames count as one, of shifts and of second differences. */
const ALIKE_SHIFTS = 10;
const ALIKE_BENDS = 4;

/**
 * Regression of the needle on the movement of the dial in the picture, held near zero by what is usual.
 *
 * Two sources in one sum of squares: the fitted sideways shifts, and the second differences of the needle's turn from frame
 * to frame, in which the tremor of a hand stands out and the bus, through a slow meter, hardly; a needle that swings is an
 * outlier there. Null marks a frame without a needle.
 */
export function parallaxOf(clues: readonly (ParallaxClue | null)[]): Parallax {
  const known = clues.filter((clue) => clue !== null);
  if (known.length < 10) return { perX: 0, perY: 0 };
  const middle = (of: (clue: ParallaxClue) => number) => robustMiddle(known.map(of));
  const [lateral0, x0, y0] = [
    middle(({ lateralPx }) => lateralPx),
    middle(({ movedX }) => movedX),
    middle(({ movedY }) => movedY),
  ];
  const shifts = known.map(({ lateralPx, movedX, movedY }) => [lateralPx - lateral0, movedX - x0, movedY - y0, 1]);
  const bends: number[][] = [];
  for (let index = 1; index + 1 < clues.length; index++) {
    const [before, here, after] = clues.slice(index - 1, index + 2);
    if (before == null || here == null || after == null) continue;
    const bend = (of: (clue: ParallaxClue) => number) => of(before) - 2 * of(here) + of(after);
    bends.push([bend((c) => c.turnPx), bend((c) => c.movedX), bend((c) => c.movedY), 0]);
  }
  const sources = [
    { rows: shifts, alike: ALIKE_SHIFTS, variance: robustVariance(shifts.map(([value]) => value!)) },
    { rows: bends, alike: ALIKE_BENDS, variance: robustVariance(bends.map(([value]) => value!)) },
  ];
  let solution = new Float64Array(3);
  for (let round = 0; round < 6; round++) {
    const sums = emptyEquations(3);
    for (const source of sources) {
      const errors = source.rows.map(
        ([value, x, y, level]) => value! - solution[0]! * x! - solution[1]! * y! - solution[2]! * level!,
      );
      if (round > 0) source.variance = robustVariance(errors);
      const unit = 1 / (source.alike * source.variance);
      source.rows.forEach((row, index) => {
        const weight = unit / (1 + errors[index]! ** 2 / (6 * source.variance));
        addEquation(sums, row.slice(1), row[0]!, weight);
      });
    }
    sums.matrix[0]! += 1 / USUAL_PARALLAX ** 2;
    sums.matrix[4]! += 1 / USUAL_PARALLAX ** 2;
    const solved = solveEquations(sums);
    if (solved === null) return { perX: 0, perY: 0 };
    solution = Float64Array.from(solved.solution);
  }
  return { perX: solution[0]!, perY: solution[1]! };
}

function robustMiddle(values: readonly number[]): number {
  return Float64Array.from(values).sort()[values.length >> 1] ?? 0;
}

function robustVariance(values: readonly number[]): number {
  const middle = robustMiddle(values);
  const spread = robustMiddle(values.map((value) => Math.abs(value - middle)));
  return Math.max((1.48 * spread) ** 2, 1e-12);
}
