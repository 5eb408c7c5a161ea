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
    // Four passes each take the standard deviation of flights that lie at one distance, over 0.9887 for held outliers.
    const shown = (0.03 * Math.sqrt(10 / 9)) / 0.9887;
    // Median of chi-square with 9 degrees of freedom: 8.343 (any table of its quantiles, from memory).
    expect(Math.abs(found.sigma / (shown / Math.sqrt(8.343 / 9)) - 1)).toBeLessThan(1e-3);
  });

  it("takes the correlation without the bias of an estimated level, and counts such flights for fewer", () => {
    // Twelve flights in turn two above and two below: products of neighbours sum to 6 - 5, squares to 12.
    const flights = Array.from({ length: 12 }, (_, index) => 0.03 * (-1) ** (index >> 1));
    const found = fleetScatter(
      Array.from({ length: 8 }, () => flights),
      12,
    )!;
    // E r = rho - (1 + 4 rho) / n (Marriott & Pope, Biometrika 41 (1954) 390, from memory).
    const rho = 1 / 12 + (1 + 4 / 12) / 12;
    expect(found.correlation.value).toBeCloseTo(rho, 9);
    // The variance of a mean square of an AR(1) series is (1 + rho^2) / (1 - rho^2) times that of independent readings.
    const dof = (11 * (1 - rho ** 2)) / (1 + rho ** 2);
    const shown = (0.03 * Math.sqrt(12 / 11)) / 0.9887;
    // Medians of chi-square with 10 and 11 degrees of freedom: 9.342 and 10.341 (any table, from memory), straight between.
    const median = 9.342 + (dof - 10) * (10.341 - 9.342);
    expect(Math.abs(found.sigma / (shown / Math.sqrt(median / dof)) - 1)).toBeLessThan(1e-3);
  });
});
