import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { baselineOf, winsorize } from "../../../src/core/trend/baseline.js";

const middle = (values: readonly number[]) => {
  const sorted = [...values].sort((a, b) => a - b);
  return (sorted[Math.floor((sorted.length - 1) / 2)]! + sorted[Math.ceil((sorted.length - 1) / 2)]!) / 2;
};
const meanOf = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const heldIn = (values: readonly number[], mean: number, sigma: number) =>
  values.map((value) => Math.min(mean + 2.5 * sigma, Math.max(mean - 2.5 * sigma, value)));

/** Median and 1.4826 median deviations, then four times mean and deviation of what is drawn in to 2.5 of it on either side. */
function byHand(values: readonly number[]) {
  let mean = middle(values);
  let sigma = 1.4826 * middle(values.map((value) => Math.abs(value - mean)));
  if (sigma === 0) sigma = Math.sqrt(meanOf(values.map((value) => (value - mean) ** 2)));
  for (let pass = 0; pass < 4; pass++) {
    const held = heldIn(values, mean, sigma);
    mean = meanOf(held);
    // A standard normal value so drawn in keeps a standard deviation of 0.9887.
    sigma = Math.sqrt(held.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (held.length - 1)) / 0.9887;
  }
  const held = heldIn(values, mean, sigma);
  const centre = meanOf(held);
  const products = held.slice(1).reduce((sum, value, k) => sum + (value - centre) * (held[k]! - centre), 0);
  const r1 = products / held.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  return { mean, sigma, r1, flightCount: values.length };
}

describe("baselineOf() by hand", () => {
  it("is what four passes leave, with wild flights among them", () => {
    const random = randomSource(31);
    for (let k = 0; k < 200; k++) {
      const count = 5 + Math.floor(25 * random.uniform());
      const values = Array.from({ length: count }, () => {
        return 12 + 0.4 * random.normal() * (random.uniform() < 0.15 ? 12 : 1);
      });
      // Flights after the baseline do not count.
      const found = baselineOf([...values, 99, -99], count);
      const hand = byHand(values);
      expect(found.mean).toBeCloseTo(hand.mean, 9);
      expect(found.sigma).toBeCloseTo(hand.sigma, 9);
      expect(found.r1).toBeCloseTo(hand.r1, 9);
      expect(found.flightCount).toBe(count);
      expect(baselineOf(values)).toEqual(found);
    }
  });

  it("falls back on all flights where more than half read the same, and is without scatter where all do", () => {
    const coarse = [3, 3, 3, 3, 4, 3, 2, 3];
    const found = baselineOf(coarse);
    const hand = byHand(coarse);
    expect(found.mean).toBeCloseTo(hand.mean, 9);
    expect(found.sigma).toBeCloseTo(hand.sigma, 9);
    expect(found.r1).toBeCloseTo(hand.r1, 9);
    expect(baselineOf([5, 5, 5, 5, 5])).toEqual({ mean: 5, sigma: 0, r1: 0, flightCount: 5 });
  });

  it("the 0.9887 is that of the normal distribution", () => {
    // Integral of the square of what is drawn in over the normal density, by the midpoint rule.
    let variance = 0;
    const step = 1e-3;
    for (let z = -8 + step / 2; z < 8; z += step) {
      variance += (step * winsorize(z) ** 2 * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI);
    }
    expect(Math.sqrt(variance)).toBeCloseTo(0.9887, 4);
    expect([winsorize(-9), winsorize(0.3), winsorize(9), winsorize(9, 1)]).toEqual([-2.5, 0.3, 2.5, 1]);
  });
});
