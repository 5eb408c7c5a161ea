import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { theilSen } from "../../../src/core/trend/theil-sen.js";
import { flightRecord } from "../../bench/flight-record.js";

const moments = Array.from({ length: 40 }, (_, index) => index);

function coverage(phi: number, varianceFactor: number): number {
  const generator = randomGenerator(7);
  let covering = 0;
  for (let trial = 0; trial < 400; trial++) {
    const { low, high } = theilSen(moments, flightRecord({ flightCount: 40, phi, outlierShare: 0 }, generator), {
      varianceFactor,
    });
    if (low <= 0 && high >= 0) covering++;
  }
  return covering / 400;
}

describe("theilSen", () => {
  it("theilSen() of a straight line with four wild readings finds the line", () => {
    const readings = moments.map((moment) => 3 + 0.25 * moment);
    for (const wild of [4, 11, 23, 37]) readings[wild] += 50;
    const { slope, intercept } = theilSen(moments, readings);
    expect(slope).toBeCloseTo(0.25, 12);
    expect(intercept).toBeCloseTo(3, 12);
  });

  it("theilSen() of readings turned upside down turns slope and interval", () => {
    const readings = flightRecord({ flightCount: 40, phi: 0, outlierShare: 0 }, randomGenerator(3));
    const up = theilSen(moments, readings);
    const down = theilSen(
      moments,
      readings.map((reading) => -reading),
    );
    expect(down.slope).toBeCloseTo(-up.slope, 12);
    expect(down.low).toBeCloseTo(-up.high, 12);
    expect(down.high).toBeCloseTo(-up.low, 12);
  });

  it("theilSen() covers a true slope of 0 in 95 % of independent records", () => {
    // 400 trials: two standard errors are 2.2 points.
    expect(coverage(0, 1)).toBeGreaterThan(0.92);
    expect(coverage(0, 1)).toBeLessThan(0.98);
  });

  it("theilSen() covers too seldom at correlation 0.4 unless the variance is widened", () => {
    expect(coverage(0.4, 1)).toBeLessThan(0.89);
    expect(coverage(0.4, 1.4 / 0.6)).toBeGreaterThan(0.92);
  });

  it("theilSen() of three readings has no bounded interval", () => {
    expect(theilSen([0, 1, 2], [1, 2, 4])).toMatchObject({
      low: Number.NEGATIVE_INFINITY,
      high: Number.POSITIVE_INFINITY,
    });
  });

  it("theilSen() of readings at one moment throws", () => {
    expect(() => theilSen([1, 1], [2, 3])).toThrow(
      "Cannot fit a slope: at least 2 readings at different moments are needed",
    );
  });
});
