import { describe, expect, it } from "vitest";
import { cusum, ewma, ewmaLimits, firstBeyond } from "../../src/core/trend/control-chart.js";
import { dataColumns } from "./data-files.js";

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (EWMA) and 6.3.2.3 (CUSUM).
describe("NIST/SEMATECH e-Handbook control charts", () => {
  const [, indications, printedAverages] = dataColumns("trend/nist-ewma-6324.csv");

  it("ewma() with weight 0.3 from 50 gives the twenty averages printed in 6.3.2.4", () => {
    const own = ewma(indications, 0.3, 50);
    printedAverages.forEach((printed, index) => {
      expect(Math.abs(own[index] - printed), `average ${index + 1}`).toBeLessThanOrEqual(0.0051);
    });
  });

  it("ewmaLimits() of target 50, s 2.0539 gives 52.5884 and 47.4115 of 6.3.2.4, where the handbook cuts the last digit", () => {
    const { upper, lower } = ewmaLimits(50, 2.0539, 0.3);
    expect(Math.abs(upper - 52.5884)).toBeLessThan(1e-4);
    expect(Math.abs(lower - 47.4115)).toBeLessThan(1e-4);
    const own = ewma(indications, 0.3, 50);
    expect(firstBeyond(own, upper)).toBeNull();
    expect(own.every((average) => average > lower)).toBe(true);
  });

  it("cusum() of 6.3.2.3 first passes h = 4.1959 at group 14", () => {
    const [, x] = dataColumns("trend/nist-cusum-6323.csv");
    // Target 325, k 0.3175 and h 4.1959 from memory; sums recomputed by hand from the printed data.
    const { upper, lower } = cusum(x, 325, 0.3175);
    expect(firstBeyond(upper, 4.1959)).toBe(13);
    [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035].forEach((sum, index) => {
      expect(upper[12 + index]).toBeCloseTo(sum, 9);
    });
    expect(upper[4]).toBeCloseTo(0.0325, 9);
    expect(Math.max(...lower)).toBeCloseTo(0.715, 9);
    expect(lower.indexOf(Math.max(...lower))).toBe(7);
  });
});
