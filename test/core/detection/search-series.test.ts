import { describe, expect, it } from "vitest";
import { searchSeries } from "../../../src/core/detection/search-series.js";

function recording(count: number, intervalS: number) {
  const timesS = Float64Array.from({ length: count }, (_, i) => i * intervalS);
  return { timesS, voltagesV: timesS.map((_, i) => 24 + 0.01 * ((i * 7) % 5)) };
}

describe("searchSeries()", () => {
  it("needs forty readings, eight seconds, and one reading in two seconds", () => {
    expect(searchSeries(recording(39, 1), null)).toBeNull();
    expect(searchSeries(recording(40, 1), null)).not.toBeNull();
    // 40 readings over 7.8 s and over 8.19 s.
    expect(searchSeries(recording(40, 0.2), null)).toBeNull();
    expect(searchSeries(recording(40, 0.21), null)).not.toBeNull();
    expect(searchSeries(recording(40, 2), null)).not.toBeNull();
    expect(searchSeries(recording(40, 2.1), null)).toBeNull();
  });

  it("asks how long the recording is, not when its clock began", () => {
    const late = ({ timesS, voltagesV }: ReturnType<typeof recording>) => ({
      timesS: timesS.map((t) => t + 1000),
      voltagesV,
    });
    expect(searchSeries(late(recording(40, 0.2)), null)).toBeNull();
    expect(searchSeries(late(recording(40, 0.21)), null)).not.toBeNull();
    expect(searchSeries(late(recording(120_000, 0.5)), null)!.blockS).toBeCloseTo(0.6, 3);
  });

  it("averages readings faster than seven hundredths of a second over a tenth", () => {
    expect(searchSeries(recording(200, 0.07), null)!.blockS).toBe(0);
    expect(searchSeries(recording(200, 0.06), null)!.blockS).toBeCloseTo(0.1, 12);
    expect(searchSeries(recording(200, 0.07), null)!.timesS).toHaveLength(200);
  });

  it("searches a hundred thousand blocks at most", () => {
    expect(searchSeries(recording(100_000, 0.5), null)!.blockS).toBe(0);
    const { blockS, timesS } = searchSeries(recording(120_000, 0.5), null)!;
    expect(blockS).toBeCloseTo(0.6, 3);
    expect(timesS.length).toBeLessThanOrEqual(100_001);
    expect(searchSeries(recording(210_000, 0.5), null)).toBeNull();
  });

  it("weighs readings by their own uncertainties", () => {
    const one = recording(51, 1);
    const readingUncertaintiesV = one.timesS.map((_, i) => (i % 2 === 0 ? 0.01 : 0.02));
    expect(searchSeries({ ...one, readingUncertaintiesV }, null)!.readingCounts[1]).toBe(0.25);
  });
});
