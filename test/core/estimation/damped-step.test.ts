import { describe, expect, it } from "vitest";
import { dampedStep, scaledNorm } from "../../../src/core/estimation/damped-step.js";
import { applyTransposed, factorize } from "../../../src/core/statistics/householder.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** A random problem `|J s + f|` of `rows` by three, its columns of very different size. */
function problem(seed: number, rows: number, isSingular = false) {
  const random = randomGenerator(seed);
  const jacobian = Array.from({ length: rows }, () => {
    const row = [1, 30, 0.02].map((size) => size * random.normal());
    if (isSingular) row[2] = row[0]! - 2 * row[1]!;
    return row;
  });
  const residuals = Array.from({ length: rows }, () => random.normal());
  const scales = Float64Array.from([0, 1, 2], (j) => Math.hypot(...jacobian.map((row) => row[j]!)));
  const factors = factorize(Float64Array.from(jacobian.flat()), rows, 3);
  const rotated = Float64Array.from(residuals);
  applyTransposed(factors, rotated);
  return { jacobian, residuals, scales, factors, rotated };
}

describe("dampedStep()", () => {
  it("meets the conditions of the least squares within the radius, for every radius", () => {
    let damped = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const { jacobian, residuals, scales, factors, rotated } = problem(seed, 8);
      for (const radius of [1e-3, 0.1, 0.5, 1, 2, 100]) {
        const { step, damping } = dampedStep(factors, rotated, scales, radius);
        const length = scaledNorm(step, scales);
        expect(length).toBeCloseTo(Math.hypot(...Array.from(step, (s, j) => s * scales[j]!)), 9);
        expect(damping).toBeGreaterThanOrEqual(0);
        expect(length, `seed ${seed}, ${radius}`).toBeLessThanOrEqual(1.1 * radius * (1 + 1e-9));
        // Inside, the step is the full one; else it reaches the radius to a tenth.
        if (damping > 0) {
          expect(length).toBeGreaterThanOrEqual(0.9 * radius * (1 - 1e-9));
          damped += 1;
        }
        // (J'J + l D^2) s = -J'f.
        const moved = jacobian.map(
          (row, i) => residuals[i]! + row.reduce((sum, value, j) => sum + value * step[j]!, 0),
        );
        for (let j = 0; j < 3; j++) {
          const slope = jacobian.reduce((sum, row, i) => sum + row[j]! * moved[i]!, 0);
          const held = damping * scales[j]! ** 2 * step[j]!;
          expect(Math.abs(slope + held) / (scales[j]! * Math.hypot(...residuals))).toBeLessThan(1e-9);
        }
      }
    }
    expect(damped).toBeGreaterThan(60);
  });

  it("finds a step where the columns depend on each other too", () => {
    for (let seed = 1; seed <= 20; seed++) {
      const { jacobian, residuals, scales, factors, rotated } = problem(seed, 6, true);
      const { step, damping } = dampedStep(factors, rotated, scales, 0.3);
      expect(step.every(Number.isFinite), `seed ${seed}`).toBe(true);
      expect(scaledNorm(step, scales)).toBeLessThanOrEqual(0.33 * (1 + 1e-9));
      const before = residuals.reduce((sum, v) => sum + v * v, 0);
      const after = jacobian.reduce(
        (sum, row, i) => sum + (residuals[i]! + row.reduce((s, value, j) => s + value * step[j]!, 0)) ** 2,
        0,
      );
      expect(after).toBeLessThan(before);
      expect(damping).toBeGreaterThanOrEqual(0);
    }
  });

  it("stays where nothing is left to gain", () => {
    const { scales, factors } = problem(3, 5);
    const { step } = dampedStep(factors, new Float64Array(5), scales, 1);
    expect(Array.from(step, Math.abs)).toEqual([0, 0, 0]);
  });
});
