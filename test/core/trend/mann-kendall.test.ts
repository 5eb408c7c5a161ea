import { describe, expect, it } from "vitest";
import { kendallVariance, mannKendall } from "../../../src/core/trend/mann-kendall.js";

function permutations(values: number[]): number[][] {
  if (values.length < 2) return [values];
  return values.flatMap((value, place) =>
    permutations([...values.slice(0, place), ...values.slice(place + 1)]).map((rest) => [value, ...rest]),
  );
}

describe("mannKendall", () => {
  it("kendallVariance() is the variance of S over all orders of the readings, ties among them", () => {
    for (const readings of [
      [1, 2, 3, 4, 5, 6],
      [1, 1, 2, 3, 3, 3],
    ]) {
      const all = permutations(readings).map((order) => mannKendall(order).s);
      const mean = all.reduce((sum, s) => sum + s, 0) / all.length;
      const variance = all.reduce((sum, s) => sum + (s - mean) ** 2, 0) / all.length;
      expect(kendallVariance(readings)).toBeCloseTo(variance, 9);
    }
  });

  it("mannKendall() backwards turns the sign", () => {
    const readings = [3, 1, 4, 1, 5, 9, 2, 6];
    expect(mannKendall([...readings].reverse()).z).toBe(-mannKendall(readings).z);
  });

  it("mannKendall() of equal readings has S 0 and p 1", () => {
    expect(mannKendall([2, 2, 2, 2])).toMatchObject({ s: 0, z: 0, pValue: 1 });
  });

  it("mannKendall() of three rising readings by the formula: S 3, variance 3 x 2 x 11 / 18, z 2 over its root", () => {
    const found = mannKendall([1, 2, 4]);
    expect(found).toMatchObject({ s: 3, tau: 1 });
    expect(found.varianceS).toBeCloseTo(11 / 3, 12);
    expect(found.z).toBeCloseTo(2 / Math.sqrt(11 / 3), 12);
  });

  it("mannKendall() of two readings throws", () => {
    expect(() => mannKendall([1, 2])).toThrow("Cannot test for a trend: at least 3 readings are needed, got 2");
  });
});
