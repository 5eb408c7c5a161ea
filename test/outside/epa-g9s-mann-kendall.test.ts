import { describe, expect, it } from "vitest";
import { mannKendall } from "../../src/core/trend/mann-kendall.js";
import { dataColumns } from "./data-files.js";

describe("published Mann-Kendall examples", () => {
  it("mannKendall() of US EPA QA/G-9S p. 109, with ties, gives S 22, variance 155.33, Z 1.685", () => {
    const { s, varianceS, z } = mannKendall(dataColumns("trend/epa-g9s-mann-kendall.csv")[1]);
    expect(s).toBe(22);
    expect(varianceS).toBeCloseTo(155.33, 2);
    expect(z).toBeCloseTo(1.685, 3);
  });

  it("mannKendall() of the Wisconsin administrative code's table A (100 50 85 75 50) gives S -5", () => {
    expect(mannKendall([100, 50, 85, 75, 50]).s).toBe(-5);
  });
});
