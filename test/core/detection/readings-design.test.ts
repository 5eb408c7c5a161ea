import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";

function seriesOf(timesS: readonly number[], valuesV: readonly number[], count = 1) {
  return {
    timesS: Float64Array.from(timesS),
    valuesV: Float64Array.from(valuesV),
    readingCounts: new Float64Array(timesS.length).fill(count),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.5,
  };
}
const even = Array.from({ length: 9 }, (_, i) => 0.5 * i);
const values = even.map((t) => 24 + 0.01 * t * t);

describe("ReadingsDesign", () => {
  it.each([0, 1000, -50])("tells the mean interval of readings wherever their clock begins: %d s", (startS) => {
    const times = even.map((t) => startS + t);
    expect(new ReadingsDesign(seriesOf(times, values)).intervalS).toBeCloseTo(0.5, 9);
    // One that is missing: eight readings over the same four seconds.
    const fewer = times.filter((_, i) => i !== 3);
    expect(new ReadingsDesign(seriesOf(fewer, values.slice(1))).intervalS).toBeCloseTo(4 / 7, 9);
  });

  it("tells the scatter of a mean of readings by the root of their number", () => {
    expect(new ReadingsDesign(seriesOf(even, values)).scatterV).toBeCloseTo(0.02, 12);
    expect(new ReadingsDesign(seriesOf(even, values, 16)).scatterV).toBeCloseTo(0.005, 12);
  });

  it("columns() are 1, a line from -1 to 1, the dips, the readings less their mean, and what comes after", () => {
    const dip = Float64Array.from(even, (t) => (t > 1 ? -1 : 0));
    const last = Float64Array.from(even, (_, i) => i);
    const { columns, columnCount } = new ReadingsDesign(seriesOf(even, values)).columns([dip], [last]);
    const mean = values.reduce((sum, v) => sum + v, 0) / 9;
    expect(columnCount).toBe(5);
    even.forEach((t, i) => {
      const row = [...columns.subarray(5 * i, 5 * i + 5)];
      expect(row).toEqual([1, t / 2 - 1, dip[i]!, values[i]! - mean, i].map((each) => expect.closeTo(each, 9)));
    });
  });
});
