import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import {
  COVERAGE,
  normalQuantity,
  quantityFromMixture,
  selectionAdjusted,
} from "../../../src/core/quantity/interval.js";

const ROUTE = "generalized-least-squares" as const;

describe("normalQuantity()", () => {
  it("reaches 1.96 standard uncertainties either way for a coverage of 95 %", () => {
    // JCGM 100:2008, table G.1: k = 1.960 for 95 %.
    const { low, high, coverage } = normalQuantity(3, 0.5, "V", ROUTE);
    expect(coverage).toBe(0.95);
    expect((high - 3) / 0.5).toBeCloseTo(1.96, 3);
    expect((3 - low) / 0.5).toBeCloseTo(1.96, 3);
  });
});

describe("quantityFromMixture()", () => {
  it("of one normal part is the normal quantity", () => {
    const one = { means: Float64Array.of(3), sds: Float64Array.of(0.5), weights: Float64Array.of(1) };
    const found = quantityFromMixture(one, "V", ROUTE);
    const expected = normalQuantity(3, 0.5, "V", ROUTE);
    expect(found.value).toBeCloseTo(expected.value, 9);
    expect(found.u).toBeCloseTo(expected.u, 9);
    expect(found.low).toBeCloseTo(expected.low, 6);
    expect(found.high).toBeCloseTo(expected.high, 6);
  });

  it("of two parts has their mean, and the variance within plus between them", () => {
    const two = { means: Float64Array.of(1, 2), sds: Float64Array.of(0.3, 0.6), weights: Float64Array.of(0.25, 0.75) };
    const found = quantityFromMixture(two, "V", ROUTE);
    expect(found.value).toBeCloseTo(1.75, 12);
    expect(found.u ** 2).toBeCloseTo(0.25 * 0.09 + 0.75 * 0.36 + 0.25 * 0.75 * 1, 12);
  });

  it("leaves 2.5 % of a skewed mixture on either side", () => {
    const skewed = { means: Float64Array.of(0, 3), sds: Float64Array.of(0.5, 2), weights: Float64Array.of(0.8, 0.2) };
    const { low, high } = quantityFromMixture(skewed, "V", ROUTE);
    const random = randomSource(21);
    const count = 200_000;
    let below = 0;
    let above = 0;
    for (let k = 0; k < count; k++) {
      const drawn = random.uniform() < 0.8 ? 0.5 * random.normal() : 3 + 2 * random.normal();
      if (drawn < low) below += 1;
      if (drawn > high) above += 1;
    }
    // Four standard deviations of 200,000 draws: 0.14 %.
    expect(Math.abs(below / count - 0.025)).toBeLessThan(0.0014);
    expect(Math.abs(above / count - 0.025)).toBeLessThan(0.0014);
  });
});

describe("selectionAdjusted()", () => {
  // Acceptance above 2.3 standard uncertainties, true depths from far below to far above.
  it.each([0.5, 1, 1.5, 2, 2.3, 3, 4, 6])("covers %d of its u among the accepted at the stated rate", (truth) => {
    const random = randomSource(100 + 10 * truth);
    let accepted = 0;
    let covered = 0;
    while (accepted < 1500) {
      const value = truth + random.normal();
      if (value <= 2.3) continue;
      accepted += 1;
      const { low, high } = selectionAdjusted(normalQuantity(value, 1, "V", ROUTE), 2.3);
      if (low <= truth && truth <= high) covered += 1;
    }
    // Never below 95 % by more than four standard deviations of 1,500 (2.3 %). Above it, for the bounds are widened to
    // hold the plain interval's low end and the value itself.
    expect(covered / accepted).toBeGreaterThan(COVERAGE - 0.023);
  });

  it("is exact among the accepted where truth lies well above the critical value", () => {
    const random = randomSource(3);
    let covered = 0;
    const count = 2000;
    for (let k = 0; k < count; k++) {
      const value = 8 + random.normal();
      const { low, high } = selectionAdjusted(normalQuantity(value, 1, "V", ROUTE), 2.3);
      if (low <= 8 && 8 <= high) covered += 1;
    }
    expect(Math.abs(covered / count - COVERAGE)).toBeLessThan(0.0195);
  });

  it("ends where the accepted part of the normal distribution leaves 2.5 % beyond the value, by quadrature", () => {
    /** Share beyond `value` of what a truth makes exceed 2.3; Simpson's rule over twelve standard deviations. */
    const share = (value: number, truth: number) => {
      const beyond = (from: number) => {
        const step = 0.004;
        let sum = 0;
        for (let k = 0; k <= 3000; k++) {
          const weight = k === 0 || k === 3000 ? 1 : k % 2 === 1 ? 4 : 2;
          // Scaled by the density at the critical value, which cancels.
          const [z, at] = [from + k * step - truth, 2.3 - truth];
          sum += weight * Math.exp((at * at - z * z) / 2);
        }
        return sum;
      };
      return beyond(value) / beyond(2.3);
    };
    for (const value of [2.9, 3.5, 4.5, 6, 6.79]) {
      const plain = normalQuantity(value, 1, "V", ROUTE);
      const { low, high } = selectionAdjusted(plain, 2.3);
      if (low > 0 && low < plain.low) expect(share(value, low), `low of ${value}`).toBeCloseTo(0.025, 6);
      expect(share(value, high), `high of ${value}`).toBeCloseTo(0.975, 6);
    }
    // From 4.5 standard uncertainties above on it is the plain interval.
    expect(selectionAdjusted(normalQuantity(6.81, 1, "V", ROUTE), 2.3)).toEqual(normalQuantity(6.81, 1, "V", ROUTE));
    expect(selectionAdjusted(normalQuantity(6.79, 1, "V", ROUTE), 2.3)).not.toEqual(
      normalQuantity(6.79, 1, "V", ROUTE),
    );
  });

  it("keeps value and u, contains the value, and never ends below nothing", () => {
    for (let value = 2.31; value < 9; value += 0.05) {
      const plain = normalQuantity(value, 1, "V", ROUTE);
      const { low, high, ...rest } = selectionAdjusted(plain, 2.3);
      expect(rest.value).toBe(value);
      expect(rest.u).toBe(1);
      expect(low).toBeGreaterThanOrEqual(0);
      expect(low).toBeLessThanOrEqual(plain.low);
      expect(high).toBeGreaterThanOrEqual(value);
    }
  });

  it("leaves a quantity alone that was not accepted, or lies far above the critical value", () => {
    const faint = normalQuantity(2, 1, "V", ROUTE);
    const strong = normalQuantity(9, 1, "V", ROUTE);
    expect(selectionAdjusted(faint, 2.3)).toBe(faint);
    expect(selectionAdjusted(strong, 2.3)).toBe(strong);
  });

  it("scales with the unit", () => {
    const far = normalQuantity(0.00681, 0.001, "V", ROUTE);
    expect(selectionAdjusted(far, 0.0023)).toBe(far);
    const one = selectionAdjusted(normalQuantity(2.6, 1, "V", ROUTE), 2.3);
    const milli = selectionAdjusted(normalQuantity(0.0026, 0.001, "V", ROUTE), 0.0023);
    expect(milli.low * 1000).toBeCloseTo(one.low, 6);
    expect(milli.high * 1000).toBeCloseTo(one.high, 6);
  });
});
