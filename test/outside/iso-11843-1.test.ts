import { describe, expect, it } from "vitest";
import { scoreDistribution } from "../../src/core/detection/averaged-score.js";
import { randomGenerator } from "../../src/core/statistics/random.js";

/*
 * ISO 11843-1:1997, definitions: critical value, the value whose exceeding leads, for a given error probability alpha,
 * to the decision that the system is not in its basic state; minimum detectable value, the true value for which the
 * probability of not deciding so is beta. In the normal case with known standard deviation s these are z(1 - alpha) s
 * and (z(1 - alpha) + z(1 - beta)) s. (Definitions and formula from memory; the text of the standard was not at hand.)
 * Quantiles to four decimals: any table of the normal distribution.
 */
const Z = { "0.90": 1.2816, "0.95": 1.6449, "0.99": 2.3263, "0.999": 3.0902 } as const;

describe("critical and minimum detectable value of one known shape, in its standard deviations", () => {
  const distributions = Array.from({ length: 8 }, (_, k) =>
    scoreDistribution({ weights: Float64Array.of(1), correlations: Float64Array.of(1) }, 0, randomGenerator(k + 1)),
  );
  const mean = (f: (one: (typeof distributions)[number]) => number) =>
    distributions.reduce((sum, one) => sum + f(one), 0) / distributions.length;

  it.each([
    [0.05, Z["0.95"]],
    [0.01, Z["0.99"]],
    [0.001, Z["0.999"]],
  ])("at a false-alarm rate of %d the critical value is %d", (alpha, expected) => {
    // Drawn tails are right within 3 % each: 1 % for eight, which is 0.01 / (z + 1 / z) and less of a standard deviation.
    expect(Math.abs(mean((one) => one.criticalScore(alpha)) - expected)).toBeLessThan(0.02);
  });

  it.each([
    [0.01, 0.9, "0.99", "0.90"],
    [0.01, 0.95, "0.99", "0.95"],
    [0.05, 0.95, "0.95", "0.95"],
  ] as const)(
    "alpha %d, power %d: the minimum detectable value is the sum of both quantiles",
    (alpha, power, zAlpha, zPower) => {
      const found = mean((one) => one.detectableSize(one.criticalScore(alpha), power));
      expect(Math.abs(found - (Z[zAlpha] + Z[zPower]))).toBeLessThan(0.02);
    },
  );
});
