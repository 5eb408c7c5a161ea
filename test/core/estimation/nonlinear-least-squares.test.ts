import { describe, expect, it } from "vitest";
import { nonlinearLeastSquares } from "../../../src/core/estimation/nonlinear-least-squares.js";
import { variableProjection } from "../../../src/core/estimation/variable-projection.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const x = Float64Array.from({ length: 30 }, (_, k) => k / 5);

function decay(y: Float64Array, start: Float64Array, absolute = false) {
  return nonlinearLeastSquares(
    {
      start,
      residualCount: y.length,
      residuals: (b, out) => {
        for (let i = 0; i < out.length; i++) out[i] = (y[i] - b[0] * Math.exp(-b[1] * x[i])) / (absolute ? 0.05 : 1);
      },
    },
    { absolute },
  );
}

describe("nonlinearLeastSquares()", () => {
  it("covers both parameters in 95 % of 1000 fits with known uncertainty of the readings", () => {
    const random = randomGenerator(5);
    const covered = [0, 0];
    for (let k = 0; k < 1000; k++) {
      const fit = decay(
        x.map((t) => 2 * Math.exp(-0.7 * t) + 0.05 * random.normal()),
        Float64Array.of(1, 1),
        true,
      );
      if (!fit.converged) throw new Error(fit.why);
      [2, 0.7].forEach((truth, j) => {
        if (Math.abs(fit.parameters[j] - truth) < 1.96 * fit.standardErrors[j]) covered[j] += 1 / 1000;
      });
    }
    for (const share of covered) {
      expect(share).toBeGreaterThan(0.93);
      expect(share).toBeLessThan(0.97);
    }
  });

  it("takes the same steps whatever the units of the parameters: its region is scaled by the Jacobian's columns", () => {
    const random = randomGenerator(8);
    const y = x.map((t) => 2 * Math.exp(-0.7 * t) + 0.05 * random.normal());
    // Powers of two, so that rounding is the same too.
    const fitIn = (units: readonly [number, number]) => {
      const fit = nonlinearLeastSquares({
        start: Float64Array.of(20 * units[0], 3 * units[1]),
        residualCount: y.length,
        residuals: (b, out) => {
          for (let i = 0; i < out.length; i++) out[i] = y[i] - (b[0] / units[0]) * Math.exp(-(b[1] / units[1]) * x[i]);
        },
      });
      if (!fit.converged) throw new Error(fit.why);
      return [fit.stepCount, fit.parameters[0] / units[0], fit.parameters[1] / units[1]];
    };
    const plain = fitIn([1, 1]);
    expect(fitIn([2 ** 20, 1])).toEqual(plain);
    expect(fitIn([1, 2 ** -20])).toEqual(plain);
  });

  it("says flat where the readings do not depend on a parameter", () => {
    const fit = nonlinearLeastSquares({
      start: Float64Array.of(1, 1),
      residualCount: 30,
      residuals: (b, out) => {
        for (let i = 0; i < out.length; i++) out[i] = x[i] - b[0] + 0 * b[1];
      },
    });
    expect(fit).toMatchObject({ converged: false, why: "flat" });
  });

  it("says too-many-steps rather than give a half-way answer", () => {
    const y = x.map((t) => 2 * Math.exp(-0.7 * t));
    const fit = nonlinearLeastSquares(
      {
        start: Float64Array.of(100, 9),
        residualCount: 30,
        residuals: (b, out) => {
          for (let i = 0; i < out.length; i++) out[i] = y[i] - b[0] * Math.exp(-b[1] * x[i]);
        },
      },
      { mostSteps: 2 },
    );
    expect(fit).toMatchObject({ converged: false, why: "too-many-steps" });
  });

  it("says not-finite where the model cannot be evaluated at the start", () => {
    expect(decay(x, Float64Array.of(1, -1e4))).toMatchObject({ converged: false, why: "not-finite" });
  });
});

describe("variableProjection()", () => {
  it("gives the same estimates and standard errors as the fit of all parameters, weights included", () => {
    const random = randomGenerator(6);
    const y = x.map((t) => 2 * Math.exp(-0.7 * t) + 0.05 * random.normal());
    const weights = x.map((t) => 1 + t);
    const all = nonlinearLeastSquares({
      start: Float64Array.of(1, 1),
      residualCount: 30,
      residuals: (b, out) => {
        for (let i = 0; i < 30; i++) out[i] = Math.sqrt(weights[i]) * (y[i] - b[0] * Math.exp(-b[1] * x[i]));
      },
    });
    const separable = variableProjection({
      y,
      weights,
      columnCount: 1,
      start: Float64Array.of(1),
      columns: ([rate], out) => {
        for (let i = 0; i < 30; i++) out[i] = Math.exp(-rate * x[i]);
      },
    });
    if (!all.converged || !separable.converged) throw new Error("did not converge");
    expect(separable.coefficients[0]).toBeCloseTo(all.parameters[0], 7);
    expect(separable.shape[0]).toBeCloseTo(all.parameters[1], 7);
    expect(separable.standardErrors[0]).toBeCloseTo(all.standardErrors[0], 7);
    expect(separable.standardErrors[1]).toBeCloseTo(all.standardErrors[1], 7);
    expect(separable.residualSquares).toBeCloseTo(all.residualSquares, 9);
  });
});
