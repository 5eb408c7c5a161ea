import { describe, expect, it } from "vitest";
import { nonlinearLeastSquares } from "../../../src/core/estimation/nonlinear-least-squares.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** Level and slope of twelve readings, by the normal equations. */
function straightLine(x: Float64Array, y: Float64Array) {
  const n = x.length;
  const [sx, sy] = [x, y].map((values) => values.reduce((a, b) => a + b, 0));
  const sxx = x.reduce((sum, v) => sum + v * v, 0);
  const sxy = x.reduce((sum, v, i) => sum + v * y[i]!, 0);
  const slope = (n * sxy - sx! * sy!) / (n * sxx - sx! * sx!);
  const level = (sy! - slope * sx!) / n;
  const rest = y.reduce((sum, v, i) => sum + (v - level - slope * x[i]!) ** 2, 0);
  const variance = rest / (n - 2);
  const uSlope = Math.sqrt((n * variance) / (n * sxx - sx! * sx!));
  return { level, slope, rest, uSlope, uLevel: uSlope * Math.sqrt(sxx / n) };
}

describe("nonlinearLeastSquares() of a straight line", () => {
  it.each([
    ["nothing", [0, 0]],
    ["far off", [1e4, -3e3]],
    ["close by", [1, 0.5]],
  ])("is the solution of the normal equations, started from %s", (_, start) => {
    const random = randomGenerator(4);
    const x = Float64Array.from({ length: 12 }, (__, i) => i - 3);
    const y = x.map((t) => 1.3 + 0.4 * t + 0.1 * random.normal());
    const line = straightLine(x, y);
    const fit = nonlinearLeastSquares({
      start: Float64Array.from(start),
      residualCount: x.length,
      residuals: ([level, slope], out) => {
        for (let i = 0; i < out.length; i++) out[i] = y[i]! - level! - slope! * x[i]!;
      },
    });
    if (!fit.converged) throw new Error(fit.why);
    expect(fit.parameters[0]).toBeCloseTo(line.level, 7);
    expect(fit.parameters[1]).toBeCloseTo(line.slope, 7);
    expect(fit.residualSquares / line.rest).toBeCloseTo(1, 9);
    expect(fit.standardErrors[0]! / line.uLevel).toBeCloseTo(1, 5);
    expect(fit.standardErrors[1]! / line.uSlope).toBeCloseTo(1, 5);
  });

  it.each([
    ["at once", [2, 3]],
    ["after a step", [0, 0]],
  ])("ends where the readings lie on it to the last bit: %s", (_, start) => {
    let evaluations = 0;
    const fit = nonlinearLeastSquares({
      start: Float64Array.from(start),
      residualCount: 4,
      residuals: ([level, slope], out) => {
        evaluations += 1;
        // At whole numbers only, so that rounding leaves nothing.
        const [a, b] = [Math.round(level! * 2 ** 20) / 2 ** 20, Math.round(slope! * 2 ** 20) / 2 ** 20];
        for (let i = 0; i < out.length; i++) out[i] = 2 + 3 * i - a - b * i;
      },
    });
    if (!fit.converged) throw new Error(fit.why);
    expect(fit.residualSquares).toBe(0);
    expect(fit.parameters[0]).toBeCloseTo(2, 5);
    expect(fit.parameters[1]).toBeCloseTo(3, 5);
    expect(evaluations).toBeLessThan(100);
  });
});
