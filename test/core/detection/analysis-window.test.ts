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

  it("joins where one's margin meets the other's switchings, by a hair", () => {
    // The first ends at 1005 s, its margin at 1065 s.
    expect(analysisWindows(timesS, [load([1000, 1005]), load([1065, 1070])]).length).toBe(1);
    expect(analysisWindows(timesS, [load([1000, 1005]), load([1066, 1070])]).length).toBe(2);
    // A long one before counts, not the one that began last.
    expect(analysisWindows(timesS, [load([1000, 1300]), load([1010, 1015]), load([1350, 1355])]).length).toBe(1);
    const order = analysisWindows(timesS, [load([2000, 2005]), load([1000, 1005])]);
    expect(order.map(({ parts }) => parts[0]!.loadIndex)).toEqual([1, 0]);
    expect(analysisWindows(timesS, [])).toEqual([]);
  });

  it("takes a load up anew after two minutes of pause", () => {
    const parts = (onsetS: number) =>
      analysisWindows(timesS, [load([1000, 1005], [onsetS, onsetS + 5])]).flatMap((one) => one.parts);
    expect(parts(1125)).toHaveLength(1);
    expect(parts(1126)).toHaveLength(2);
  });

  it("averages from seven hundredths of a second on, and where there are more than 2,500 readings", () => {
    const widthOf = (intervalS: number, onS = 5, singly = false) =>
      analysisWindows(every(intervalS, 400), [load([200, 200 + onS])], singly)[0]!.blockS;
    expect(widthOf(0.0701)).toBe(0);
    expect(widthOf(0.069)).toBeCloseTo(0.1, 12);
    // 300 s and two margins at 0.1 s are 4,200 readings.
    const long = analysisWindows(every(0.1, 600), [load([100, 400])])[0]!;
    expect(long.blockS).toBeCloseTo(419.9 / 2500, 9);
    expect(widthOf(0.01, 0.06)).toBeCloseTo(0.02, 12);
    // Digits of a coarse display are kept apart up to 5,000 readings.
    expect(widthOf(0.05, 5, true)).toBe(0);
    expect(widthOf(0.02, 5, true)).toBeCloseTo(0.1, 12);
    const none = analysisWindows(every(1, 60), [load([2000, 2005])])[0]!;
    expect(none.range.start).toBe(none.range.end);
    expect(none.blockS).toBe(0);
  });

  it("counts readings to the last one: 5,000 are kept apart and 5,001 are not, 2,500 are taken as they are", () => {
    // A minute before and after, and all times exact in binary.
    const widthOf = (intervalS: number, count: number, singly: boolean) => {
      const load_ = load([100, 100 + count * intervalS - 120]);
      const [window] = analysisWindows(every(intervalS, 600), [load_], singly);
      expect(window!.range.end - window!.range.start).toBe(count);
      return window!.blockS;
    };
    expect(widthOf(1 / 32, 5000, true)).toBe(0);
    expect(widthOf(1 / 32, 5001, true)).toBeCloseTo(0.1, 12);
    expect(widthOf(1 / 8, 2500, false)).toBe(0);
    expect(widthOf(1 / 8, 2501, false)).toBeCloseTo(1 / 8, 12);
    // Two readings tell a rate, one does not.
    const few = (count: number) => analysisWindows(Float64Array.of(100, 100.05).slice(0, count), [load([99, 105])])[0]!;
    expect([1, 2].map((count) => few(count).blockS)).toEqual([0, 0.1]);
  });

  it("windowSeries() weighs the readings by their own uncertainties", () => {
    const times = every(1, 60);
    const readingUncertaintiesV = times.map((_, i) => (i % 2 === 0 ? 0.01 : 0.02));
    const recording = { timesS: times, voltagesV: times.map(() => 24), readingUncertaintiesV };
    const [window] = analysisWindows(times, [load([20, 25])]);
    expect(Array.from(windowSeries(recording, window!, null).readingCounts.slice(0, 3))).toEqual([1, 0.25, 1]);
  });
});
