import { describe, expect, it } from "vitest";
import { axisTicks } from "../../../src/report/figures/axis-ticks.js";
import { binMeans, indexAt, rounder, thinned } from "../../../src/report/figures/decimation.js";

const timesS = Float64Array.from({ length: 100_000 }, (_, i) => i / 100);
const window = { timesS, start: 0, end: timesS.length, binCount: 100, gaps: [] };

describe("thinned()", () => {
  it("keeps a single outlying reading among a hundred thousand", () => {
    const values = timesS.map((_, i) => (i === 54_321 ? -7 : i === 12_345 ? 9 : Math.sin(i)));
    const drawn = thinned(window, { values, factor: 1 }, 1e-3);
    expect(drawn.thinned).toBe(true);
    expect(drawn.x.length).toBeLessThanOrEqual(200);
    expect(Math.min(...(drawn.y as number[]))).toBe(-7);
    expect(Math.max(...(drawn.y as number[]))).toBe(9);
    expect(drawn.x[drawn.y.indexOf(-7)]).toBeCloseTo(543.21, 1);
  });

  it("keeps the times in order", () => {
    const drawn = thinned(window, { values: timesS.map((_, i) => Math.sin(i)), factor: 1 }, 1e-3);
    expect(drawn.x).toEqual([...drawn.x].sort((a, b) => a - b));
  });

  it("leaves a short series whole, less what is to be taken off, in the unit asked", () => {
    const short = { timesS: Float64Array.of(0, 1, 2), start: 0, end: 3, binCount: 10, gaps: [] };
    const drawn = thinned(
      short,
      { values: Float64Array.of(5, 6, 8), minus: Float64Array.of(5, 5, 5), factor: 1000 },
      1,
    );
    expect(drawn).toEqual({ x: [0, 1, 2], y: [0, 1000, 3000], thinned: false });
  });

  it("breaks the line in a gap and nowhere else", () => {
    const gapped = {
      timesS: Float64Array.of(0, 1, 9, 10),
      start: 0,
      end: 4,
      binCount: 10,
      gaps: [{ startS: 1, endS: 9 }],
    };
    expect(thinned(gapped, { values: Float64Array.of(1, 2, 3, 4), factor: 1 }, 1).y).toEqual([1, 2, null, 3, 4]);
  });
});

describe("binMeans()", () => {
  it("averages each bin", () => {
    const means = binMeans(window, { values: timesS.map((_, i) => (i % 2 === 0 ? 1 : 3)), factor: 1 }, 1e-3);
    expect(means.y).toHaveLength(100);
    for (const mean of means.y) expect(mean).toBeCloseTo(2, 2);
  });
});

describe("indexAt()", () => {
  it("finds the first reading not before a time", () => {
    const few = Float64Array.of(0, 1, 1, 2);
    expect([-1, 0, 0.5, 1, 2, 3].map((timeS) => indexAt(few, timeS))).toEqual([0, 0, 1, 1, 3, 4]);
  });
});

describe("rounder()", () => {
  it("moves a value by less than the step", () => {
    for (const step of [0.003, 0.05, 1, 20]) {
      for (const value of [24.98765, -0.0123, 1234.5678]) {
        expect(Math.abs(rounder(step)(value) - value)).toBeLessThan(step);
      }
    }
  });
});

describe("axisTicks()", () => {
  it("steps by 1, 2 or 5 and prints each tick to the same digits", () => {
    expect(axisTicks(24.97, 25.46, 5).map((tick) => tick.text)).toEqual(["25.0", "25.1", "25.2", "25.3", "25.4"]);
    expect(axisTicks(-210, 100, 3).map((tick) => tick.text)).toEqual(["−200", "−100", "0", "100"]);
    expect(axisTicks(0, 3600, 7).map((tick) => tick.at)).toEqual([0, 500, 1000, 1500, 2000, 2500, 3000, 3500]);
  });

  it("gives none for an axis of no width", () => {
    expect(axisTicks(1, 1, 5)).toEqual([]);
    expect(axisTicks(0, Number.NaN, 5)).toEqual([]);
  });
});
