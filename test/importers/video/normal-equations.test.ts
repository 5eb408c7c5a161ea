import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import {
  addEquation,
  addEquations,
  addRightSides,
  EQUATION_BLOCK,
  emptyEquations,
  equationColumns,
} from "../../../src/importers/video/normal-equations.js";

describe("addEquations", () => {
  it.each([
    [8, EQUATION_BLOCK],
    [14, 77],
  ])("sums what one equation after the other would, %i unknowns and %i equations", (size, count) => {
    const random = randomSource(7);
    const [single, block, right] = [emptyEquations(size), emptyEquations(size), emptyEquations(size)];
    const columns = equationColumns(size);
    for (let at = 0; at < count; at++) {
      const row = Array.from({ length: size }, () => random.normal());
      const value = random.normal();
      const weight = random.normal() ** 2;
      addEquation(single, row, value, weight);
      [value, ...row].forEach((part, column) => {
        columns[column * EQUATION_BLOCK + at] = Math.sqrt(weight) * part;
      });
    }
    addEquations(block, columns, count);
    addRightSides(right, columns, count);
    for (let i = 0; i < size; i++) {
      expect(block.right[i]).toBeCloseTo(single.right[i]!, 9);
      expect(right.right[i]).toBeCloseTo(single.right[i]!, 9);
      for (let j = i; j < size; j++) expect(block.matrix[i * size + j]).toBeCloseTo(single.matrix[i * size + j]!, 9);
    }
  });
});
