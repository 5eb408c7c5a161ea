import { describe, expect, it } from "vitest";
import { SCALE_STRATA, scaleAt } from "../../../src/core/plan/score-scale.js";

describe("scaleAt()", () => {
  it("is 1 where the noise is known", () => {
    expect(scaleAt(0, 3)).toBe(1);
    expect(scaleAt(-1, 3)).toBe(1);
    expect(scaleAt(Number.NaN, 3)).toBe(1);
  });

  it("takes the middles of equal shares of a log-normal distribution, again from the first after the last", () => {
    // Standard normal table: quantile of 0.96875 (the last of 16 middles) 1.8627, of 0.53125 (the ninth) 0.0784.
    expect(Math.log(scaleAt(0.1, SCALE_STRATA - 1))).toBeCloseTo(0.18627, 4);
    expect(Math.log(scaleAt(0.1, 8))).toBeCloseTo(0.00784, 5);
    expect(scaleAt(0.1, 0) * scaleAt(0.1, SCALE_STRATA - 1)).toBeCloseTo(1, 9);
    expect(scaleAt(0.1, SCALE_STRATA + 2)).toBe(scaleAt(0.1, 2));
  });

  it("never strays by more than e to the 1.5", () => {
    expect(scaleAt(5, SCALE_STRATA - 1)).toBeCloseTo(Math.exp(1.5), 9);
    expect(scaleAt(5, 0)).toBeCloseTo(Math.exp(-1.5), 9);
  });
});
