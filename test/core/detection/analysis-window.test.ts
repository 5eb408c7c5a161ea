import { describe, expect, it } from "vitest";
import { analysisWindows, windowSeries } from "../../../src/core/detection/analysis-window.js";

const every = (intervalS: number, endS: number) =>
  Float64Array.from({ length: Math.floor(endS / intervalS) + 1 }, (_, i) => i * intervalS);
const load = (...onTimes: readonly (readonly [number, number])[]) => ({
  onTimes: onTimes.map(([onsetS, releaseS]) => ({ onsetS, releaseS })),
});

describe("analysisWindows()", () => {
  const timesS = every(1, 3600);

  it("keeps a minute of quiet on either side, as far as the recording goes", () => {
    const [window] = analysisWindows(timesS, [load([1000, 1005], [1010, 1015])]);
    expect(timesS[window!.range.start]).toBe(940);
    expect(timesS[window!.range.end - 1]).toBe(1074);
    const [atStart] = analysisWindows(timesS, [load([5, 10])]);
    expect(atStart!.range.start).toBe(0);
  });

  it("judges loads together when one is switched in the other's margin, and apart beyond it", () => {
    expect(analysisWindows(timesS, [load([1000, 1005]), load([1060, 1065])]).length).toBe(1);
    expect(analysisWindows(timesS, [load([1000, 1005]), load([1100, 1105])]).length).toBe(2);
  });

  it("holds every on-time once, and each inside its window", () => {
    const loads = [load([1000, 1005], [1500, 1505], [1510, 1515]), load([1003, 1300], [2900, 2990])];
    const windows = analysisWindows(timesS, loads);
    const seen = windows.flatMap(({ parts, range }) =>
      parts.flatMap(({ loadIndex, onTimes }) =>
        onTimes.map(({ onsetS, releaseS }) => {
          expect(timesS[range.start]).toBeLessThanOrEqual(onsetS - 60);
          expect(timesS[range.end - 1]).toBeGreaterThanOrEqual(Math.min(releaseS + 59, 3600));
          return `${loadIndex}: ${onsetS}`;
        }),
      ),
    );
    expect(seen.toSorted()).toEqual(["0: 1000", "0: 1500", "0: 1510", "1: 1003", "1: 2900"]);
  });

  it("keeps every reading of a slow log, and averages a fast one over a tenth of a second", () => {
    expect(analysisWindows(timesS, [load([1000, 1005])])[0]!.blockS).toBe(0);
    const fast = analysisWindows(every(0.005, 60), [load([20, 25])])[0]!;
    expect(fast.blockS).toBeCloseTo(0.1, 12);
  });

  it("never averages over more than a sixth of the shortest on-time", () => {
    const [window] = analysisWindows(every(0.005, 60), [load([20, 20.3])]);
    expect(window!.blockS).toBeCloseTo(0.05, 9);
  });

  it("windowSeries() gives means on the time axis, with the number of readings in each", () => {
    const times = every(0.01, 60);
    const recording = { timesS: times, voltagesV: times.map((t) => 24 + 0.01 * t) };
    const [window] = analysisWindows(times, [load([20, 25])]);
    const series = windowSeries(recording, window!, null);
    expect(series.readingCounts.reduce((sum, count) => sum + count, 0)).toBe(times.length);
    // The mean of a straight line is its value at the mean time.
    for (const [i, t] of series.timesS.entries()) expect(series.valuesV[i]).toBeCloseTo(24 + 0.01 * t, 9);
  });
});
