import { describe, expect, it } from "vitest";
import { evenGrid, takeLevelOff } from "../../../src/core/series/even-grid.js";

const grid = (timesS: readonly number[], values: readonly number[], stepS: number, intervalS: number) =>
  evenGrid(Float64Array.from(timesS), Float64Array.from(values), stepS, intervalS);

describe("evenGrid()", () => {
  it("puts the mean of the readings nearest to a cell's middle into it", () => {
    const { startS, stepS, values, mask } = grid([5, 5.4, 5.6, 6.4, 7], [1, 3, 10, 20, 7], 1, 1);
    expect([startS, stepS]).toEqual([5, 1]);
    expect(Array.from(values)).toEqual([2, 15, 7]);
    expect(Array.from(mask)).toEqual([1, 1, 1]);
  });

  it("keeps a reading past the last middle in the last cell", () => {
    expect(Array.from(grid([0, 1, 1.8], [1, 3, 5], 1, 1).values)).toEqual([1, 4]);
  });

  it("draws a straight line over up to three usual intervals, and leaves longer stretches open", () => {
    const bridged = grid([0, 3, 4], [1, 7, 7], 1, 1);
    expect(Array.from(bridged.values)).toEqual([1, 3, expect.closeTo(5, 12), 7, 7]);
    expect(Array.from(bridged.mask)).toEqual([1, 1, 1, 1, 1]);
    const later = grid([0, 1, 2, 5], [1, 1, 1, 7], 1, 1);
    expect(Array.from(later.values)).toEqual([1, 1, 1, 3, 5, 7].map((v) => expect.closeTo(v, 12)));
    const open = grid([0, 4, 5], [1, 7, 7], 1, 1);
    expect(Array.from(open.values)).toEqual([1, 0, 0, 0, 7, 7]);
    expect(Array.from(open.mask)).toEqual([1, 0, 0, 0, 1, 1]);
    // The usual interval is longer than a cell: 3 x 1.5 s, rounded up.
    expect(Array.from(grid([0, 5], [0, 5], 1, 1.5).mask)).toEqual([1, 1, 1, 1, 1, 1]);
    expect(Array.from(grid([0, 6], [0, 6], 1, 1.5).mask)).toEqual([1, 0, 0, 0, 0, 0, 1]);
  });
});

describe("takeLevelOff()", () => {
  it("takes the mean of the readings within the width on either side off", () => {
    const one = grid([0, 1, 2, 3, 4], [1, 2, 6, 4, 9], 1, 1);
    takeLevelOff(one, 1);
    // Means 1.5, 3, 4, 19/3, 6.5.
    expect(Array.from(one.values)).toEqual([-0.5, -1, 2, 4 - 19 / 3, 2.5].map((v) => expect.closeTo(v, 12)));
  });

  it("counts no cell without readings, and leaves it at nothing", () => {
    const gap = { startS: 0, stepS: 1, values: Float64Array.of(1, 50, 3, 5), mask: Float64Array.of(1, 0, 1, 1) };
    takeLevelOff(gap, 1);
    expect(Array.from(gap.values)).toEqual([0, 0, -1, 1]);
  });

  it("takes the width in cells, at least one", () => {
    const values = [4, 0, 0, 0, 0];
    const wide = { startS: 0, stepS: 0.5, values: Float64Array.from(values), mask: new Float64Array(5).fill(1) };
    takeLevelOff(wide, 1);
    expect(wide.values[2]).toBeCloseTo(-4 / 5, 12);
    expect(wide.values[0]).toBeCloseTo(4 - 4 / 3, 12);
    const narrow = { startS: 0, stepS: 0.5, values: Float64Array.from(values), mask: new Float64Array(5).fill(1) };
    takeLevelOff(narrow, 0.01);
    expect(narrow.values[1]).toBeCloseTo(-4 / 3, 12);
    expect(narrow.values[2]).toBeCloseTo(0, 12);
  });
});
