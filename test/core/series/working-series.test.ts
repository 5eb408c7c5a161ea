import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { medianIntervalS, medianOf, readingScatterV, workingSeries } from "../../../src/core/series/working-series.js";

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
