import { describe, expect, it } from "vitest";
import { heaviest, leftoverShapes, shapeWeights } from "../../../src/core/detection/load-work.js";
import type { WeightedShape } from "../../../src/core/detection/shape-bank.js";

const shape = { shiftS: 0.1, lagS: 0.4, inrush: 0.5, settleS: 3, polarization: 0.2, polarizationS: 20 };
const bankOf = (weights: readonly number[]): WeightedShape[] => weights.map((weight) => ({ shape, weight }));
const found = (scores: readonly number[], u: readonly number[]) => ({
  scores: Float64Array.from(scores),
  uAmplitudesV: Float64Array.from(u),
  amplitudesV: new Float64Array(scores.length),
  correlations: null,
});

describe("shapeWeights()", () => {
  it("are prior times likelihood with the amplitude integrated out: w u exp(z^2 / 2), summing to 1", () => {
    const weights = shapeWeights(found([1, 2, -2], [0.1, 0.2, 0.3]), bankOf([0.5, 0.3, 0.2]));
    const plain = [0.05 * Math.exp(0.5), 0.06 * Math.exp(2), 0.06 * Math.exp(2)];
    const total = plain.reduce((a, b) => a + b, 0);
    plain.forEach((value, k) => {
      expect(weights[k]).toBeCloseTo(value / total, 12);
    });
  });

  it("give nothing to a shape that the readings cannot show, and stand scores beyond any exponential", () => {
    const weights = shapeWeights(found([0, 60, 59], [Number.POSITIVE_INFINITY, 0.1, 0.1]), bankOf([0.5, 0.25, 0.25]));
    expect(weights[0]).toBe(0);
    expect(weights[2]! / weights[1]!).toBeCloseTo(Math.exp((59 ** 2 - 60 ** 2) / 2), 30);
    expect(weights[1]! + weights[2]!).toBeCloseTo(1, 12);
  });
});

describe("heaviest()", () => {
  it("is the first of the largest", () => {
    expect(heaviest(Float64Array.of(1, 3, 2, 3))).toBe(1);
    expect(heaviest(Float64Array.of(4, 3))).toBe(0);
    expect(heaviest(Float64Array.of(1, 2, 5))).toBe(2);
  });
});

describe("leftoverShapes()", () => {
  it("differ from the fitted one in settling, polarisation or lag, each in one thing more", () => {
    const shapes = leftoverShapes(shape);
    const changed = shapes.map((one) =>
      Object.keys(shape).filter((key) => one[key as keyof typeof shape] !== shape[key as keyof typeof shape]),
    );
    expect(changed).toEqual([
      ["inrush"],
      ["inrush", "settleS"],
      ["polarization"],
      ["polarization", "polarizationS"],
      ["lagS"],
    ]);
    for (const one of shapes) {
      expect(one.inrush).toBeGreaterThanOrEqual(shape.inrush);
      expect(one.settleS).toBeLessThanOrEqual(shape.settleS);
      expect(one.polarization).toBeGreaterThanOrEqual(shape.polarization);
      expect(one.polarizationS).toBeLessThanOrEqual(shape.polarizationS);
      expect(one.lagS).toBeGreaterThanOrEqual(shape.lagS);
    }
    // A meter without lag may have some.
    expect(leftoverShapes({ ...shape, lagS: 0 })[4]!.lagS).toBeGreaterThan(0);
  });
});
