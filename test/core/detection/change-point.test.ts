import { describe, expect, it } from "vitest";
import { type ChangePointOptions, changePoints } from "../../../src/core/detection/change-point.js";
import { type RandomGenerator, randomGenerator } from "../../../src/core/statistics/random.js";
import { boundedLoss, leastPartitionCost, type SegmentLoss, squaredLoss } from "../../oracles/optimal-partitioning.js";

function steps(random: RandomGenerator, count: number, round: boolean): Float64Array {
  let level = 0;
  return Float64Array.from({ length: count }, () => {
    if (random.uniform() < 0.1) level = 3 * random.normal();
    const value = level + random.normal() * (random.uniform() < 0.05 ? 8 : 1);
    return round ? Math.round(value) : value;
  });
}

/** Cost of a segmentation as it stands, counted afresh. */
function costOf(starts: Int32Array, count: number, loss: SegmentLoss, penalty: number): number {
  let cost = -penalty;
  starts.forEach((start, k) => {
    cost += penalty + loss(start, k + 1 < starts.length ? starts[k + 1] : count);
  });
  return cost;
}

function expectOptimal(values: Float64Array, options: ChangePointOptions, loss: SegmentLoss): void {
  const { penalty, minimumLength = 1 } = options;
  const { starts, cost } = changePoints(values, options);
  const least = leastPartitionCost(values.length, loss, penalty, minimumLength);
  expect(Math.abs(cost - least)).toBeLessThan(1e-9 * (1 + least));
  expect(Math.abs(costOf(starts, values.length, loss, penalty) - least)).toBeLessThan(1e-9 * (1 + least));
  expect(starts[0]).toBe(0);
  starts.forEach((start, k) => {
    expect((k + 1 < starts.length ? starts[k + 1] : values.length) - start).toBeGreaterThanOrEqual(minimumLength);
  });
}

describe("changePoints()", () => {
  it("reaches the least cost of plain dynamic programming on 200 series, weighted or not, rounded or not", () => {
    for (let seed = 1; seed <= 200; seed++) {
      const random = randomGenerator(seed);
      const values = steps(random, 5 + (seed % 60), seed % 3 === 0);
      const weights = values.map(() => (seed % 2 === 0 ? 1 : 0.2 + 3 * random.uniform()));
      expectOptimal(values, { penalty: 0.5 + 12 * random.uniform(), weights }, squaredLoss(values, weights));
    }
  });

  it("reaches the least cost under a minimum length of 2 to 6", () => {
    for (let seed = 1; seed <= 100; seed++) {
      const random = randomGenerator(1000 + seed);
      const values = steps(random, 12 + (seed % 50), seed % 3 === 0);
      const weights = values.map(() => (seed % 2 === 0 ? 1 : 0.2 + 3 * random.uniform()));
      const options = { penalty: 6 * random.uniform(), weights, minimumLength: 2 + (seed % 5) };
      expectOptimal(values, options, squaredLoss(values, weights));
    }
  });

  it("reaches the least cost of the bounded loss", () => {
    for (let seed = 1; seed <= 60; seed++) {
      const random = randomGenerator(2000 + seed);
      const values = steps(random, 5 + (seed % 30), seed % 3 === 0);
      const weights = values.map(() => (seed % 2 === 0 ? 1 : 0.2 + 3 * random.uniform()));
      const outlierLimit = 1 + 2 * random.uniform();
      const options = { penalty: 1 + 12 * random.uniform(), weights, outlierLimit };
      expectOptimal(values, options, boundedLoss(values, weights, outlierLimit));
    }
  });

  it("finds the same starts when the values are shifted by 1e6 and scaled, the penalty with them", () => {
    const values = steps(randomGenerator(5), 400, false);
    const plain = changePoints(values, { penalty: 8 });
    const moved = changePoints(
      values.map((value) => 1e6 + 1e-3 * value),
      { penalty: 8e-6 },
    );
    expect(plain.starts.length).toBeGreaterThan(5);
    expect(moved.starts).toEqual(plain.starts);
  });

  it("takes a weight of 2 like the same value twice", () => {
    const values = steps(randomGenerator(6), 100, false);
    const doubled = Float64Array.from({ length: 200 }, (_, k) => values[k >> 1]);
    const weighted = changePoints(values, { penalty: 10, weights: new Float64Array(100).fill(2) });
    expect(changePoints(doubled, { penalty: 10 }).starts).toEqual(weighted.starts.map((start) => 2 * start));
  });

  it("the bounded loss keeps one level through a single wild reading where plain least squares breaks it", () => {
    const values = new Float64Array(60).fill(28).map((value, k) => value + (k % 2 === 0 ? 0.01 : -0.01));
    values[30] = 20;
    expect(changePoints(values, { penalty: 0.01 }).starts).toEqual(Int32Array.of(0, 30, 31));
    expect(changePoints(values, { penalty: 0.01, outlierLimit: 0.05 }).starts).toEqual(Int32Array.of(0));
  });

  it("gives no segment for no values and one for a single value", () => {
    expect(changePoints(new Float64Array(0), { penalty: 1 })).toEqual({
      starts: new Int32Array(0),
      levels: new Float64Array(0),
      cost: 0,
    });
    expect(changePoints(Float64Array.of(3), { penalty: 1 }).levels).toEqual(Float64Array.of(3));
  });

  it("refuses a negative penalty and weights of another length", () => {
    expect(() => changePoints(Float64Array.of(1, 2), { penalty: -1 })).toThrow(
      "Cannot find change points: the penalty must be >= 0, got -1",
    );
    expect(() => changePoints(Float64Array.of(1, 2), { penalty: 1, weights: Float64Array.of(1) })).toThrow(
      "Cannot find change points: one weight per value is needed, got 1 for 2 values",
    );
  });

  it("gives each segment its weighted mean for a level, and under the bounded loss that of the values near it", () => {
    const values = Float64Array.of(1, 2, 3, 11, 13, 12);
    const weights = Float64Array.of(1, 1, 2, 3, 1, 1);
    const { starts, levels } = changePoints(values, { penalty: 5, weights });
    expect(starts).toEqual(Int32Array.of(0, 3));
    expect(levels[0]).toBeCloseTo(9 / 4, 12);
    expect(levels[1]).toBeCloseTo(58 / 5, 12);
    expect(changePoints(values, { penalty: 5 }).levels[1]).toBeCloseTo(12, 12);
    const wild = Float64Array.of(1, 1.2, 0.8, 50, 1, 5, 5.2, 4.8, 5, 5);
    const bounded = changePoints(wild, { penalty: 1, outlierLimit: 1, weights: new Float64Array(10).fill(1) });
    expect(bounded.starts).toEqual(Int32Array.of(0, 5));
    expect(bounded.levels[0]).toBeCloseTo(1, 9);
    expect(bounded.levels[1]).toBeCloseTo(5, 9);
  });

  it("takes a series shorter than the minimum length as one segment", () => {
    expect(changePoints(Float64Array.of(1, 9), { penalty: 0.1, minimumLength: 5 }).starts).toEqual(Int32Array.of(0));
    expect(changePoints(Float64Array.of(1, 9), { penalty: 0 }).starts).toEqual(Int32Array.of(0, 1));
  });

  it.each([
    [{ penalty: Number.NaN }, "the penalty must be >= 0, got NaN"],
    [{ penalty: 1, minimumLength: 0 }, "the minimum length must be a whole number >= 1, got 0"],
    [{ penalty: 1, minimumLength: 1.5 }, "the minimum length must be a whole number >= 1, got 1.5"],
    [{ penalty: 1, outlierLimit: 0 }, "the outlier limit must be > 0, got 0"],
    [{ penalty: 1, outlierLimit: 1, minimumLength: 2 }, "a minimum length and an outlier limit exclude each other"],
  ])("refuses %j", (options, message) => {
    expect(() => changePoints(Float64Array.of(1, 2), options)).toThrow(`Cannot find change points: ${message}`);
  });
});
