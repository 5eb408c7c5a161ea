import { describe, expect, it } from "vitest";
import { mixtureMoments, mixtureQuantile } from "../../../src/core/statistics/normal-mixture.js";

/** Three normal parts in a unit of this size, their weights to any sum. */
const mixture = (unit: number, total = 1) => ({
  means: Float64Array.of(-1, 0.5, 2).map((mean) => unit * mean),
  sds: Float64Array.of(0.4, 1, 0.2).map((sd) => unit * sd),
  weights: Float64Array.of(0.2, 0.5, 0.3).map((weight) => total * weight),
});

/** Share of the mixture below a point, by the midpoint rule over its density from far below. */
function shareBelow(x: number): number {
  const { means, sds, weights } = mixture(1);
  const count = 40_000;
  const step = (x + 12) / count;
  let sum = 0;
  for (let k = 0; k < count; k++) {
    const at = -12 + (k + 0.5) * step;
    for (let j = 0; j < 3; j++) {
      const z = (at - means[j]!) / sds[j]!;
      sum += (weights[j]! * Math.exp((-z * z) / 2)) / (sds[j]! * Math.sqrt(2 * Math.PI));
    }
  }
  return sum * step;
}

describe("mixtureMoments()", () => {
  it("are the mean of the means, and the variances within and between", () => {
    // 0.2 x -1 + 0.5 x 0.5 + 0.3 x 2 = 0.65; squares 0.2 x 1.16 + 0.5 x 1.25 + 0.3 x 4.04 = 2.069.
    for (const total of [1, 7]) {
      const { mean, sd } = mixtureMoments(mixture(1, total));
      expect(mean).toBeCloseTo(0.65, 12);
      expect(sd).toBeCloseTo(Math.sqrt(2.069 - 0.65 ** 2), 12);
    }
  });
});

describe("mixtureQuantile()", () => {
  it.each([0.001, 0.025, 0.2, 0.5, 0.9, 0.975, 0.9999])("leaves a share of %d below it", (probability) => {
    expect(shareBelow(mixtureQuantile(mixture(1), probability))).toBeCloseTo(probability, 5);
  });

  it.each([1e-6, 1e-3, 10, 1e4])("hangs neither on the unit (%d) nor on the sum of the weights", (unit) => {
    for (const probability of [0.01, 0.5, 0.99]) {
      const plain = mixtureQuantile(mixture(1), probability);
      expect(mixtureQuantile(mixture(unit, 5), probability) / unit).toBeCloseTo(plain, 5);
    }
  });
});
