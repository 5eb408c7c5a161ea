import { describe, expect, it } from "vitest";
import { seriesSteps, windowOf, withoutHeldReadings } from "../../../src/core/series/step-windows.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const even = (count: number, intervalS = 1) => Float64Array.from({ length: count }, (_, i) => i * intervalS);
/** Levels that hold for ten readings each. */
const levels = (...values: number[]) => Float64Array.from(values.flatMap((value) => new Array<number>(10).fill(value)));

describe("seriesSteps()", () => {
  it("finds each lasting change in the middle between two readings, with its height and sign", () => {
    expect(seriesSteps(even(30, 0.5), levels(0, 4, 1), 2)).toEqual([
      { timeS: 4.75, height: 4 },
      { timeS: 9.75, height: -3 },
    ]);
  });

  it("leaves out steps below a quarter of the largest", () => {
    expect(seriesSteps(even(30), levels(0, 4, 5), 2).map(({ height }) => height)).toEqual([4, 1]);
    expect(seriesSteps(even(30), levels(0, 4, 4.99), 2).map(({ height }) => height)).toEqual([4]);
    expect(seriesSteps(even(30), levels(0, -4, -3.01), 2).map(({ height }) => height)).toEqual([-4]);
  });

  it("takes a change of fewer readings than make one lasting for none", () => {
    const blip = (length: number) => Float64Array.from({ length: 40 }, (_, i) => (i >= 20 && i < 20 + length ? 5 : 0));
    expect(seriesSteps(even(40), blip(3), 3)).toHaveLength(2);
    expect(seriesSteps(even(40), blip(2), 3).every(({ height }) => Math.abs(height) < 5)).toBe(true);
    expect(seriesSteps(even(40), blip(1), 0)).toHaveLength(2);
  });

  it("finds none in readings that never change, nor in noise", () => {
    expect(seriesSteps(even(30), levels(3, 3, 3), 2)).toEqual([]);
    const random = randomGenerator(1);
    const restless = even(200).map(() => random.normal());
    expect(seriesSteps(even(200), restless, 2)).toEqual([]);
  });
});

describe("windowOf()", () => {
  it("holds the readings from the first time on and before the second", () => {
    const { timesS, values } = windowOf(
      even(10),
      even(10).map((t) => 2 * t),
      3,
      6,
    );
    expect(Array.from(timesS)).toEqual([3, 4, 5]);
    expect(Array.from(values)).toEqual([6, 8, 10]);
    expect(windowOf(even(10), even(10), 2.5, 3.5).timesS).toEqual(Float64Array.of(3));
    expect(windowOf(even(10), even(10), -5, 50).timesS).toHaveLength(10);
    expect(windowOf(even(10), even(10), 20, 30).timesS).toHaveLength(0);
  });
});

describe("withoutHeldReadings()", () => {
  it("keeps each new value half a row before the row that first shows it", () => {
    const values = Float64Array.of(5, 5, 6, 6, 7, 8);
    const { timesS, values: kept } = withoutHeldReadings(even(6), values);
    expect(Array.from(kept)).toEqual([5, 6, 7, 8]);
    expect(Array.from(timesS)).toEqual([0, 1.5, 3.5, 4.5]);
  });

  it("from 15 % of repetitions on, and not on a display of few digits", () => {
    const held = (repeats: number, count = 100) =>
      Float64Array.from({ length: count }, (_, i) => (i <= repeats ? 0 : i));
    expect(withoutHeldReadings(even(100), held(15)).values).toHaveLength(85);
    expect(withoutHeldReadings(even(100), held(14)).values).toHaveLength(100);
    const few = (digits: number) => even(100).map((_, i) => Math.floor(i / 2) % digits);
    expect(withoutHeldReadings(even(100), few(10)).values).toHaveLength(50);
    expect(withoutHeldReadings(even(100), few(9)).values).toHaveLength(100);
  });
});
