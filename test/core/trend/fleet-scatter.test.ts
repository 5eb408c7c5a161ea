import { describe, expect, it } from "vitest";
import { fleetScatter } from "../../../src/core/trend/fleet-scatter.js";

describe("fleetScatter()", () => {
  it("is the scatter whose usual battery shows what these eight show: the median of chi-square over its mean", () => {
    // Ten flights in turn above and below: neighbours oppose each other, so that nine degrees of freedom are left.
    const flights = Array.from({ length: 10 }, (_, index) => 0.03 * (-1) ** index);
    const found = fleetScatter(
      Array.from({ length: 8 }, (_, battery) => flights.map((reading) => reading + battery)),
      10,
    )!;
    expect(found.correlation.value).toBe(0);
    // Four passes each take the standard deviation of flights that lie at one distance, over 0.978 for held outliers.
    const shown = (0.03 * Math.sqrt(10 / 9)) / 0.978;
    // Median of chi-square with 9 degrees of freedom: 8.343 (any table of its quantiles, from memory).
    expect(Math.abs(found.sigma / (shown / Math.sqrt(8.343 / 9)) - 1)).toBeLessThan(1e-3);
  });
});
