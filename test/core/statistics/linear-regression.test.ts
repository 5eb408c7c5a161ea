import { describe, expect, it } from "vitest";
import { linearFit, polynomialFit } from "../../../src/core/statistics/linear-regression.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("polynomialFit()", () => {
  const random = randomGenerator(1);
  const x = Float64Array.from({ length: 40 }, () => 10 * random.uniform());
  const y = x.map((value) => 3 + 2 * value + random.normal());

  it("a weight of 3 counts like the observation three times", () => {
    const weights = x.map((_, k) => (k === 7 ? 3 : 1));
    const repeat = (series: Float64Array) => Float64Array.from([...series, series[7], series[7]]);
    const weighted = polynomialFit(x, y, { weights });
    const repeated = polynomialFit(repeat(x), repeat(y));
    for (const k of [0, 1]) expect(weighted.coefficients[k]).toBeCloseTo(repeated.coefficients[k], 12);
    expect(weighted.residualSquares).toBeCloseTo(repeated.residualSquares, 10);
  });

  it("absolute weights give standard errors that do not depend on the scatter", () => {
    const weights = x.map(() => 4);
    const noisy = polynomialFit(
      x,
      y.map((value, k) => value + (k % 2 === 0 ? 5 : -5)),
      { weights, absolute: true },
    );
    expect(noisy.standardErrors[1]).toBeCloseTo(polynomialFit(x, y, { weights, absolute: true }).standardErrors[1], 12);
  });

  it("the residuals are observed less fitted", () => {
    const fit = polynomialFit(x, y, { weights: x.map((value) => 1 / (1 + value)) });
    fit.residuals.forEach((value, k) => {
      expect(value).toBeCloseTo(y[k] - fit.coefficients[0] - fit.coefficients[1] * x[k], 11);
    });
  });

  it("95 % intervals of the slope cover in 94 to 96 % of 4000 fits (dof 38, factor 2.0244)", () => {
    let covered = 0;
    for (let seed = 0; seed < 4000; seed++) {
      const fit = polynomialFit(
        x,
        x.map((value) => 3 + 2 * value + random.normal()),
      );
      if (Math.abs(fit.coefficients[1] - 2) < 2.0244 * fit.standardErrors[1]) covered++;
    }
    expect(covered / 4000).toBeGreaterThan(0.94);
    expect(covered / 4000).toBeLessThan(0.96);
  });
});

describe("linearFit()", () => {
  it("refuses columns that depend on each other", () => {
    const design = Float64Array.of(1, 2, 1, 2, 1, 2);
    expect(() => linearFit(design, Float64Array.of(1, 2, 3))).toThrow(
      "Cannot fit: the columns of the design must not depend on each other",
    );
  });

  it("refuses fewer observations than coefficients", () => {
    expect(() => linearFit(Float64Array.of(1, 2), Float64Array.of(1))).toThrow(
      "Cannot factorise: at least as many rows as columns are needed, got 1 x 2",
    );
  });
});
