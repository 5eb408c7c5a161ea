// Turing Change Point Dataset (github alan-turing-institute/TCPD, MIT): quality_control_1 to 5 with known change points
// 146, 97, 179, 341 and none (annotators of the first: 143 to 146), well_log. Score: F1 with a margin of five values,
// index 0 counted in (van den Burg & Williams 2020, from memory).
import { describe, expect, it } from "vitest";
import { changePoints } from "../../src/core/detection/change-point.js";
import { robustNoise } from "../../src/core/statistics/robust-scale.js";
import { dataText } from "./data-files.js";

function series(name: string): Float64Array {
  return Float64Array.from(JSON.parse(dataText(`change-point/${name}.json`)).series[0].raw as number[]);
}

function f1(found: readonly number[], known: readonly number[], margin = 5): number {
  const hits = known.filter((k) => found.some((f) => Math.abs(f - k) <= margin)).length;
  const right = found.filter((f) => known.some((k) => Math.abs(f - k) <= margin)).length;
  return (2 * hits) / known.length / (1 + hits / known.length / (right / found.length || 1));
}

/** Noise from the series itself; 6 ln n instead of the textbook's 2 ln n, because the first series also drifts. */
function starts(values: Float64Array, penaltyFactor: number, outlierLimit?: number): number[] {
  const sigma = robustNoise(values);
  const penalty = penaltyFactor * sigma ** 2 * Math.log(values.length);
  const limit = outlierLimit === undefined ? {} : { outlierLimit: outlierLimit * sigma };
  return Array.from(changePoints(values, { penalty, ...limit }).starts);
}

describe("Turing change point dataset", () => {
  it.each([
    ["quality_control_1", [0, 144]],
    ["quality_control_2", [0, 97]],
    ["quality_control_3", [0, 179]],
    ["quality_control_5", [0]],
  ] as const)(
    "changePoints() on %s scores 1 with bounded loss: one change where known, none where none",
    (name, known) => {
      expect(f1(starts(series(name), 6, 3), known)).toBe(1);
    },
  );

  it("changePoints() on quality_control_2 puts the change at 97 exactly, 1.5067 high", () => {
    const { starts: at, levels } = changePoints(series("quality_control_2"), { penalty: 25 });
    expect(at).toEqual(Int32Array.of(0, 97));
    expect(Math.abs(levels[1] - levels[0] - 1.5067)).toBeLessThan(5e-5);
  });

  it("changePoints() on the periodic quality_control_4 with one change asked falls into the known trap at 158", () => {
    const values = series("quality_control_4");
    let penalty = 1;
    while (changePoints(values, { penalty }).starts.length > 2) penalty *= 1.02;
    expect(changePoints(values, { penalty }).starts[1]).toBe(158);
  });

  it("changePoints() on well_log finds the 20 breaks of plain optimal partitioning at 4 sigma^2 ln n", () => {
    // sigma 2496.24 from the differenced median absolute deviation; R 4.2.2, plain dynamic programming.
    const values = series("well_log");
    expect(Math.abs(robustNoise(values) - 2496.24)).toBeLessThan(1);
    const { starts: at } = changePoints(values, { penalty: 4 * 2496.24 ** 2 * Math.log(values.length) });
    expect(Array.from(at.subarray(1))).toEqual([
      2, 4, 173, 179, 202, 204, 238, 239, 255, 281, 311, 343, 402, 412, 422, 432, 462, 464, 658, 661,
    ]);
  });

  it("changePoints() with the bounded loss keeps the annotated breaks of well_log and drops the wild readings", () => {
    const found = starts(series("well_log"), 6, 3);
    for (const known of [179, 255, 281, 311, 343, 402, 412, 422, 432]) {
      expect(found.some((index) => Math.abs(index - known) <= 1)).toBe(true);
    }
    for (const wild of [2, 173, 202, 238]) expect(found.some((index) => Math.abs(index - wild) <= 1)).toBe(false);
  });
});
