import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";

/**
 * Straight line of values on reference, twice reweighted so that what covers a part of the dial has little say, and the
 * sizes of what is left in order.
 */
export function contrastOf(
  references: Float64Array,
  values: Float64Array,
  start: { readonly gain: number; readonly offset: number },
): { gain: number; errors: Float64Array } {
  let { gain, offset } = start;
  const errorAt = (index: number) => Math.abs(values[index]! - gain * references[index]! - offset);
  const sorted = () => {
    const errors = new Float64Array(references.length);
    for (let index = 0; index < errors.length; index++) errors[index] = errorAt(index);
    return errors.sort();
  };
  const line = new Float64Array([1, 0]);
  for (let round = 0; round < 3; round++) {
    const scale = 2 * 1.48 * (sorted()[references.length >> 1] ?? 1) + 0.5;
    const sums = emptyEquations(2);
    for (let index = 0; index < references.length; index++) {
      line[1] = references[index]! - 128;
      addEquation(sums, line, values[index]!, 1 / (1 + (errorAt(index) / scale) ** 2));
    }
    const solved = solveEquations(sums);
    if (solved === null) break;
    gain = solved.solution[1]!;
    offset = solved.solution[0]! - 128 * gain;
  }
  return { gain, errors: sorted() };
}
