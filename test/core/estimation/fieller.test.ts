import { describe, expect, it } from "vitest";
import { fiellerInterval } from "../../../src/core/estimation/fieller.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("fiellerInterval()", () => {
  it("its ends are the ratios whose numerator less q times denominator is just 1.96 standard uncertainties", () => {
    const input = { numerator: 8, uNumerator: 1, denominator: 5, uDenominator: 0.8, covariance: 0.3 };
    const { low, high, bounded } = fiellerInterval(input, 1.96);
    expect(bounded).toBe(true);
    for (const q of [low, high]) {
      const u = Math.sqrt(1 - 2 * q * 0.3 + (q * 0.8) ** 2);
      expect(Math.abs(8 - q * 5) / u).toBeCloseTo(1.96, 9);
    }
  });

  it("covers the true ratio in 95 % of 20000 draws at a denominator of 4 standard uncertainties, the 2 % unbounded ones besides", () => {
    const random = randomGenerator(8);
    let covered = 0;
    let unbounded = 0;
    for (let k = 0; k < 20_000; k++) {
      const interval = fiellerInterval(
        { numerator: 6 + random.normal(), uNumerator: 1, denominator: 4 + random.normal(), uDenominator: 1 },
        1.959964,
      );
      if (!interval.bounded) unbounded++;
      if (!interval.bounded || (interval.low <= 1.5 && interval.high >= 1.5)) covered++;
    }
    expect(covered / 20_000).toBeGreaterThan(0.944);
    expect(covered / 20_000).toBeLessThan(0.972);
    expect(unbounded / 20_000).toBeLessThan(0.03);
  });

  it("is unbounded where the denominator may be zero", () => {
    const input = { numerator: 8, uNumerator: 1, denominator: 1, uDenominator: 0.8 };
    expect(fiellerInterval(input, 1.96)).toMatchObject({ bounded: false, low: -Infinity, high: Infinity });
  });
});
