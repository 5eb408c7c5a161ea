import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import {
  medianIntervalS,
  medianOf,
  readingScatterV,
  readingWeights,
  workingSeries,
} from "../../../src/core/series/working-series.js";

const even = (count: number, intervalS: number) => Float64Array.from({ length: count }, (_, i) => i * intervalS);
const whole = (values: Float64Array) => ({ start: 0, end: values.length });

function noise(count: number, sigmaV: number, seed = 1): Float64Array {
  const random = randomSource(seed);
  return Float64Array.from({ length: count }, () => 24 + sigmaV * random.normal());
}

describe("medianOf()", () => {
  it("is the middle value, or the mean of the two middle ones, and leaves its input alone", () => {
    const odd = Float64Array.of(5, 1, 9);
    expect(medianOf(odd)).toBe(5);
    expect(Array.from(odd)).toEqual([5, 1, 9]);
    expect(medianOf(Float64Array.of(4, 1, 3, 2))).toBe(2.5);
    expect(medianOf(new Float64Array(0))).toBeNaN();
  });
});

describe("medianIntervalS()", () => {
  it("is blind to gaps, and 0 where there is no interval", () => {
    expect(medianIntervalS(Float64Array.of(0, 1, 2, 3, 100, 101))).toBe(1);
    expect(medianIntervalS(Float64Array.of(7))).toBe(0);
    expect(medianIntervalS(even(100_000, 0.01))).toBeCloseTo(0.01, 9);
  });

  it("looks at the range alone", () => {
    expect(medianIntervalS(Float64Array.of(0, 1, 2, 3, 3.5, 4, 4.5), { start: 3, end: 7 })).toBe(0.5);
  });
});

describe("readingScatterV()", () => {
  it("is the standard deviation of white readings", () => {
    // The MAD of n second differences has a relative scatter of some 1.2 / sqrt(n): 1.9 % for 4,000; four times that.
    expect(Math.abs(readingScatterV(noise(4000, 0.03)) / 0.03 - 1)).toBeLessThan(0.08);
  });

  it("does not see a drift, a bend, steps, or one reading in fifty that is wild", () => {
    const still = noise(4000, 0.03);
    const plain = readingScatterV(still);
    const drifting = still.map((v, i) => v + 0.001 * i + 1e-7 * i * i);
    expect(Math.abs(readingScatterV(drifting) / plain - 1)).toBeLessThan(1e-3);
    const stepping = still.map((v, i) => v - (Math.floor(i / 200) % 2));
    expect(Math.abs(readingScatterV(stepping) / plain - 1)).toBeLessThan(0.03);
    const wild = still.map((v, i) => (i % 50 === 0 ? v + 5 : v));
    expect(readingScatterV(wild) / plain).toBeLessThan(1.2);
  });

  it("scales with the readings and is 0 for ones that never change", () => {
    const still = noise(500, 0.03);
    expect(readingScatterV(still.map((v) => 7 * v)) / readingScatterV(still)).toBeCloseTo(7, 9);
    expect(readingScatterV(new Float64Array(50).fill(24.1))).toBe(0);
    expect(readingScatterV(Float64Array.of(24, 25))).toBe(0);
  });

  it("falls back to the mean where most readings repeat, and is not fooled by the rounding of large numbers", () => {
    const flipping = Float64Array.from({ length: 400 }, (_, i) => (i % 10 === 0 ? 24.1 : 24));
    expect(readingScatterV(flipping)).toBeGreaterThan(0.005);
    const rounded = Float64Array.from({ length: 400 }, (_, i) => (i % 10 === 0 ? 24.1 : 24) + (i % 3) * 3e-15);
    expect(readingScatterV(rounded)).toBeGreaterThan(0.005);
  });
});

describe("workingSeries()", () => {
  it("with no block width keeps every reading", () => {
    const values = noise(200, 0.01);
    const times = even(200, 0.5);
    const series = workingSeries(times, values, whole(values), 0);
    expect(series.timesS).toEqual(times);
    expect(series.valuesV).toEqual(values);
    expect(series.readingCounts.every((count) => count === 1)).toBe(true);
  });

  it("block means conserve the sum of readings and of times, gaps and all", () => {
    const times = even(3000, 0.01).filter((t) => t < 10 || t > 17.3);
    const values = noise(times.length, 0.02);
    const series = workingSeries(times, values, whole(values), 0.1);
    const weighted = (each: Float64Array) => each.reduce((sum, v, i) => sum + v * series.readingCounts[i]!, 0);
    const total = (each: Float64Array) => each.reduce((sum, v) => sum + v, 0);
    expect(series.outlierCount).toBe(0);
    expect(weighted(series.valuesV)).toBeCloseTo(total(values), 6);
    expect(weighted(series.timesS)).toBeCloseTo(total(times), 6);
    expect(series.timesS.some((t) => t > 10.1 && t < 17.2)).toBe(false);
    for (let i = 1; i < series.timesS.length; i++) expect(series.timesS[i]).toBeGreaterThan(series.timesS[i - 1]!);
  });

  it("works on its range alone", () => {
    const values = noise(100, 0.01);
    const series = workingSeries(even(100, 1), values, { start: 20, end: 50 }, 0);
    expect(Array.from(series.valuesV)).toEqual(Array.from(values.slice(20, 50)));
  });

  it("leaves out a lone outlier and counts it, be it up or down", () => {
    const values = noise(200, 0.01);
    values[60]! += 0.5;
    values[130]! -= 3;
    const series = workingSeries(even(200, 0.1), values, whole(values), 0);
    expect(series.outlierCount).toBe(2);
    expect(series.timesS.length).toBe(198);
    expect(Math.max(...series.valuesV)).toBeLessThan(24.1);
  });

  it("never takes an edge of a dip for an outlier, nor a dip of two readings", () => {
    const values = noise(200, 0.01);
    for (let i = 60; i < 80; i++) values[i]! -= 1;
    for (const i of [120, 121]) values[i]! -= 1;
    expect(workingSeries(even(200, 0.1), values, whole(values), 0).outlierCount).toBe(0);
  });

  it("never takes the flip of one digit for an outlier", () => {
    const values = Float64Array.from({ length: 200 }, (_, i) => (i % 17 === 0 ? 24.2 : 24.1));
    expect(workingSeries(even(200, 0.1), values, whole(values), 0, 0.1).outlierCount).toBe(0);
  });

  it("takes hardly any white reading for an outlier", () => {
    const values = noise(50_000, 0.02, 9);
    // Beyond five deviations on both sides at once: rarer than 1e-5 each.
    expect(workingSeries(even(50_000, 0.1), values, whole(values), 0).outlierCount).toBeLessThan(8);
  });
});

describe("readingScatterV() by hand", () => {
  it("is 1.4826 times the median second difference over root six", () => {
    // Second differences of 0, 1, 0, 3, 0, 5, 0: 2, 4, 6, 8, 10.
    expect(readingScatterV(Float64Array.of(0, -1, 0, -3, 0, -5, 0))).toBeCloseTo((1.4826 * 6) / Math.sqrt(6), 12);
    // Two of three readings repeat: 1.2533 times the mean, of ten second differences 0.2 in all.
    const flip = Float64Array.of(1, 1, 1, 1, 1, 1.1, 1.1, 1.1, 1.1, 1.1, 1.1, 1.1);
    expect(readingScatterV(flip)).toBeCloseTo((1.2533 * 0.2) / 10 / Math.sqrt(6), 12);
    expect(readingScatterV(Float64Array.of(0, 1, 0))).toBeCloseTo((1.4826 * 2) / Math.sqrt(6), 12);
  });

  it("looks at its range alone, and at every so many where it is long", () => {
    const values = Float64Array.from({ length: 90 }, (_, i) => (i < 30 || i >= 60 ? 50 * (i % 2) : i % 2));
    expect(readingScatterV(values, { start: 30, end: 60 })).toBeCloseTo((1.4826 * 2) / Math.sqrt(6), 12);
    // Every third of nine second differences: 6 each, the others 1 or 5.
    const third = Float64Array.from({ length: 302 }, (_, i) => (i % 3 === 1 ? -1 : 0));
    expect(readingScatterV(third, { start: 0, end: 302 }, 100)).toBeCloseTo((1.4826 * 2) / Math.sqrt(6), 12);
    expect(readingScatterV(third)).toBeCloseTo((1.4826 * 1) / Math.sqrt(6), 12);
  });
});

describe("medianIntervalS() of a range", () => {
  it("takes every so many of a long series", () => {
    // 8,001 intervals: every second one is looked at, and these are the long ones.
    let t = 0;
    const timesS = Float64Array.from({ length: 8002 }, (_, i) => {
      if (i > 0) t += i % 2 === 1 ? 2 : 1;
      return t;
    });
    expect(medianIntervalS(timesS)).toBe(2);
    expect(medianIntervalS(timesS, { start: 0, end: 3 })).toBe(1.5);
    expect(medianIntervalS(timesS, { start: 5, end: 6 })).toBe(0);
  });
});

describe("readingWeights()", () => {
  it("are the squares of the median uncertainty over each one's own, within a thousandth and 25", () => {
    const weights = readingWeights(Float64Array.of(1, 2, 4, 0.1, 1000));
    expect(Array.from(weights!)).toEqual([4, 1, 0.25, 25, 1e-3]);
  });

  it("are none where no uncertainties are told, or these are nothing", () => {
    expect(readingWeights(undefined)).toBeNull();
    expect(readingWeights(new Float64Array(5))).toBeNull();
  });
});

describe("workingSeries() in full", () => {
  it("tells scatter, interval and block width", () => {
    const values = noise(300, 0.01);
    const series = workingSeries(even(300, 0.05), values, whole(values), 0.2);
    expect(series).toMatchObject({ blockS: 0.2, medianIntervalS: expect.closeTo(0.05, 9), outlierCount: 0 });
    expect(series.readingScatterV).toBe(readingScatterV(values));
    // No meter is quieter than its rounding.
    expect(workingSeries(even(300, 0.05), values, whole(values), 0.2, 1).readingScatterV).toBeCloseTo(
      1 / Math.sqrt(12),
      12,
    );
  });

  it("blocks begin at the first reading of the range; each holds the readings before its end", () => {
    const timesS = Float64Array.of(0, 5, 5.25, 5.5, 6, 6.5, 7.75);
    const values = Float64Array.of(9, 1, 2, 6, 4, 8, 5);
    const series = workingSeries(timesS, values, { start: 1, end: 7 }, 1);
    expect(Array.from(series.timesS)).toEqual([5.25, 6.25, 7.75]);
    expect(Array.from(series.valuesV)).toEqual([3, 6, 5]);
    expect(Array.from(series.readingCounts)).toEqual([3, 2, 1]);
  });

  it("weighs readings by their uncertainties, in blocks and alone", () => {
    const timesS = Float64Array.of(0, 0.5, 1, 1.5);
    const values = Float64Array.of(1, 4, 2, 8);
    const weights = Float64Array.of(1, 3, 2, 2);
    const blocks = workingSeries(timesS, values, whole(values), 1, null, weights);
    expect(Array.from(blocks.valuesV)).toEqual([3.25, 5]);
    expect(Array.from(blocks.timesS)).toEqual([0.375, 1.25]);
    expect(Array.from(blocks.readingCounts)).toEqual([4, 4]);
    expect(Array.from(workingSeries(timesS, values, whole(values), 0, null, weights).readingCounts)).toEqual([
      1, 3, 2, 2,
    ]);
  });

  it("leaves lone outliers out of blocks as well", () => {
    const values = noise(200, 0.01);
    values[60] = 20;
    const series = workingSeries(even(200, 0.1), values, whole(values), 0.5);
    expect(series.outlierCount).toBe(1);
    expect(Math.min(...series.valuesV)).toBeGreaterThan(23.9);
    expect(series.readingCounts.reduce((a, b) => a + b, 0)).toBe(199);
  });

  it("an outlier stands off both neighbours, on the same side, and off the median of five", () => {
    const outliers = (shape: readonly number[], at = 100) => {
      const values = noise(200, 0.01, 3);
      shape.forEach((v, k) => {
        values[at + k] = 24 + v;
      });
      return workingSeries(even(200, 0.1), values, whole(values), 0).outlierCount;
    };
    expect(outliers([1])).toBe(1);
    expect(outliers([-1])).toBe(1);
    // A staircase: off both, on different sides.
    expect(outliers([1, 2, 2, 2])).toBe(0);
    // In a swing of two up, one down, the one is the level of half of its neighbours.
    expect(outliers([1, 1, 0, 1, 1])).toBe(1);
    expect(outliers([0, 1, 0, 1, 0])).toBe(2);
    expect(outliers([1, 0, 1])).toBe(2);
    // The first and the last reading have no two neighbours.
    expect(outliers([1], 0)).toBe(0);
    expect(outliers([1], 199)).toBe(0);
    expect(outliers([1], 1)).toBe(1);
    expect(outliers([1], 198)).toBe(1);
  });

  it("counts five scatters of its own stretch, so that a quiet stretch shows what a restless one hides", () => {
    const values = noise(400, 0.01, 5);
    for (let i = 200; i < 400; i++) values[i] = 24 + 20 * (values[i]! - 24);
    values[80]! += 0.3;
    values[300]! = 24.3;
    const { outlierCount, timesS } = workingSeries(even(400, 0.1), values, whole(values), 0);
    expect(outlierCount).toBe(1);
    expect(timesS).not.toContain(even(400, 0.1)[80]);
    expect(timesS).toContain(even(400, 0.1)[300]);
  });
});
