import { describe, expect, it } from "vitest";
import {
  type BudgetInput,
  effectiveDegreesOfFreedom,
  uncertaintyBudget,
} from "../../../src/core/estimation/uncertainty-budget.js";

const inputs: BudgetInput[] = [
  { source: "depth", value: 0.2, unit: "V", u: 0.003, sensitivity: 50 },
  { source: "known-resistance", value: 0.02, unit: "Ohm", u: 0.0004, sensitivity: -500 },
];
const head = { quantity: "current", load: "probe-heat", unit: "A", value: 10 } as const;

describe("uncertaintyBudget()", () => {
  it("adds uncorrelated parts in quadrature and gives each its share", () => {
    const budget = uncertaintyBudget(inputs, head);
    expect(budget.u).toBeCloseTo(0.25, 12);
    expect(budget.rows.map(({ share }) => share)).toEqual([expect.closeTo(0.36, 12), expect.closeTo(0.64, 12)]);
  });

  it("adds fully correlated parts with their signs", () => {
    const correlation = Float64Array.of(1, 1, 1, 1);
    expect(uncertaintyBudget(inputs, { ...head, correlation }).u).toBeCloseTo(0.05, 12);
  });

  it("refuses a correlation matrix of another size", () => {
    expect(() => uncertaintyBudget(inputs, { ...head, correlation: Float64Array.of(1) })).toThrow(
      "Cannot draw up a budget: 2 inputs need a correlation matrix of 4, got 1",
    );
  });
});

describe("effectiveDegreesOfFreedom()", () => {
  it("is that of the only uncertain part, and infinite where all parts are exactly known", () => {
    expect(effectiveDegreesOfFreedom(Float64Array.of(3, 0), Float64Array.of(7, 2))).toBeCloseTo(7, 12);
    const exact = Float64Array.of(Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY);
    expect(effectiveDegreesOfFreedom(Float64Array.of(3, 1), exact)).toBe(Number.POSITIVE_INFINITY);
  });
});
