import { describe, expect, it } from "vitest";
import { boundariesOf } from "../../../src/core/estimation/current-boundaries.js";

describe("boundariesOf()", () => {
  /** Boundaries between 20 readings of 0, one of 10 and 20 of `after`, as index and jump, all in `unitA`. */
  const around = (after: number, unitA: number) =>
    boundariesOf(
      Float64Array.from({ length: 41 }, (_, k) => unitA * (k < 20 ? 0 : k === 20 ? 10 : after)),
      0.01 * Math.abs(unitA),
    ).map(({ index, jumpA }) => [index, Number((jumpA / unitA).toFixed(6))]);

  it("takes a reading for a stray one where the level after it is less than 0.3 of its jump off, in any unit", () => {
    for (const unitA of [0.01, 1, 100, -0.01, -100]) {
      for (const after of [-2.9, 0, 2.9]) expect(around(after, unitA), `${after} x ${unitA} A`).toEqual([]);
      for (const after of [-10, -3.1, 3.1]) {
        const jumps = [
          [20, 10],
          [21, Number((after - 10).toFixed(6))],
        ];
        expect(around(after, unitA), `${after} x ${unitA} A`).toEqual(jumps);
      }
    }
  });
});
