import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { weightedLevel } from "../../../src/core/trend/weighted-level.js";

describe("weightedLevel", () => {
  it("weightedLevel() of readings that agree is their weighted mean with no excess", () => {
    const level = weightedLevel([
      { value: 10, u: 1 },
      { value: 10.3, u: 0.5 },
    ]);
    expect(level.value).toBeCloseTo((10 + 4 * 10.3) / 5, 12);
    expect(level.u).toBeCloseTo(1 / Math.sqrt(5), 12);
    expect(level.excess).toBe(0);
  });

  it("weightedLevel() of readings that disagree has the uncertainty of their scatter", () => {
    // Equal weights: the mean 3 and the standard deviation of the mean, sqrt(2.5 / 5), whatever the stated u.
    const level = weightedLevel([1, 2, 3, 4, 5].map((value) => ({ value, u: 1e-3 })));
    expect(level.value).toBeCloseTo(3, 9);
    expect(level.u).toBeCloseTo(Math.sqrt(0.5), 6);
  });

  it("weightedLevel() states an uncertainty that its own error bears out", () => {
    const generator = randomGenerator(21);
    let chiSquare = 0;
    for (let trial = 0; trial < 600; trial++) {
      const readings = Array.from({ length: 12 }, (_, index) => {
        const u = 0.5 + 0.1 * index;
        return { value: 1.5 * generator.normal() + u * generator.normal(), u };
      });
      const level = weightedLevel(readings);
      chiSquare += (level.value / level.u) ** 2;
    }
    // Student's t with about 11 degrees of freedom has variance 1.22.
    expect(chiSquare / 600).toBeGreaterThan(0.95);
    expect(chiSquare / 600).toBeLessThan(1.45);
  });

  it("weightedLevel() of one reading, or of equal ones, is that reading and ends", () => {
    // A mean of w v / w may miss v by a rounding, which is no scatter to be explained.
    for (let k = 1; k < 400; k++) {
      const reading = { value: Math.log(k / 7), u: 0.01 + k / 1000 };
      expect(weightedLevel([reading]).excess).toBe(0);
      expect(weightedLevel([reading, reading, reading]).excess).toBe(0);
      expect(weightedLevel([reading]).u / reading.u).toBeCloseTo(1, 12);
    }
  });

  it("weightedLevel() of nothing, or of a reading without uncertainty, throws", () => {
    expect(() => weightedLevel([])).toThrow("Cannot take a level: at least 1 reading is needed, got 0");
    expect(() => weightedLevel([{ value: 1, u: 0 }])).toThrow(
      "Cannot weight readings: every uncertainty must be positive, got 0",
    );
  });
});
