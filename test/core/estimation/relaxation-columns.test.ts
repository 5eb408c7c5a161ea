import { describe, expect, it } from "vitest";
import { dampedStep, scaledNorm } from "../../../src/core/estimation/damped-step.js";
import { relaxationColumns, stepWeights } from "../../../src/core/estimation/relaxation-columns.js";
import {
  effectiveDegreesOfFreedom,
  rectangularU,
  uncertaintyBudget,
} from "../../../src/core/estimation/uncertainty-budget.js";
import { applyTransposed, factorize } from "../../../src/core/statistics/householder.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const levels = [
  { timeS: 2, currentA: 5 },
  { timeS: 6, currentA: 8 },
  { timeS: 9, currentA: 0 },
];
const changes = [
  [2, 5],
  [6, 3],
  [9, -8],
] as const;

describe("relaxationColumns()", () => {
  const timesS = Float64Array.from({ length: 60 }, (_, i) => i * 0.25 + (i % 3) * 0.05);

  it.each([0, 0.4])("are resistor and pairs seen through a lag of %d s: sums of step responses", (lagS) => {
    const taus = [1.5, 4];
    const columns = relaxationColumns(timesS, levels, taus, lagS);
    const resistor = (t: number) => (t < 0 ? 0 : lagS === 0 ? 1 : 1 - Math.exp(-t / lagS));
    // Two first orders in a row: 1 - (tau exp(-t/tau) - lag exp(-t/lag)) / (tau - lag).
    const pair = (t: number, tau: number) =>
      t < 0 ? 0 : 1 - (tau * Math.exp(-t / tau) - (lagS === 0 ? 0 : lagS * Math.exp(-t / lagS))) / (tau - lagS);
    timesS.forEach((t, i) => {
      expect(columns[3 * i]).toBeCloseTo(
        changes.reduce((sum, [at, change]) => sum + change * resistor(t - at), 0),
        9,
      );
      taus.forEach((tau, k) => {
        expect(columns[3 * i + 1 + k]).toBeCloseTo(
          changes.reduce((sum, [at, change]) => sum + change * pair(t - at, tau), 0),
          9,
        );
      });
    });
  });

  it("of a pair as slow as the meter is the limit: 1 - (1 + t / tau) exp(-t / tau)", () => {
    const columns = relaxationColumns(timesS, [{ timeS: 0, currentA: 1 }], [0.5], 0.5);
    timesS.forEach((t, i) => {
      expect(columns[2 * i + 1]).toBeCloseTo(1 - (1 + t / 0.5) * Math.exp(-t / 0.5), 5);
    });
  });

  it("begins under load where the first reading does", () => {
    const all = relaxationColumns(timesS, levels, [1.5, 4], 0.4);
    const from = timesS.findIndex((t) => t > 7);
    const later = relaxationColumns(timesS.slice(from), levels, [1.5, 4], 0.4);
    expect(later).toHaveLength(all.length - 3 * from);
    later.forEach((value, i) => {
      expect(value).toBeCloseTo(all[3 * from + i]!, 12);
    });
    expect(relaxationColumns(Float64Array.of(2), levels, [1], 0)).toEqual(Float64Array.of(5, 0));
  });

  it("is nothing before the first level, and without one", () => {
    expect(relaxationColumns(Float64Array.of(0, 1), levels, [1], 0)).toEqual(new Float64Array(4));
    expect(relaxationColumns(Float64Array.of(0, 1), [], [1], 0.2)).toEqual(new Float64Array(4));
  });
});

describe("stepWeights()", () => {
  it("are 1 and what each pair has done by then", () => {
    const weights = stepWeights(2, [1, 4]);
    expect(weights[0]).toBe(1);
    expect(weights[1]).toBeCloseTo(1 - Math.exp(-2), 12);
    expect(weights[2]).toBeCloseTo(1 - Math.exp(-0.5), 12);
  });
});

describe("dampedStep()", () => {
  const random = randomGenerator(4);
  const jacobian = Float64Array.from({ length: 18 }, () => random.normal());
  const misfits = Float64Array.from({ length: 6 }, () => 3 * random.normal());
  const factors = factorize(Float64Array.from(jacobian), 6, 3);
  const rotated = Float64Array.from(misfits);
  applyTransposed(factors, rotated);
  const scales = Float64Array.of(1, 2, 0.5);
  const gradientAt = (step: Float64Array, damping: number) =>
    [0, 1, 2].map((j) => {
      let sum = damping * scales[j]! ** 2 * step[j]!;
      for (let i = 0; i < 6; i++) {
        const off = misfits[i]! + [0, 1, 2].reduce((total, k) => total + jacobian[3 * i + k]! * step[k]!, 0);
        sum += jacobian[3 * i + j]! * off;
      }
      return sum;
    });

  it("is the whole step of least squares where that is short enough", () => {
    const { step, damping } = dampedStep(factors, rotated, scales, 100);
    expect(damping).toBe(0);
    for (const slope of gradientAt(step, 0)) expect(slope).toBeCloseTo(0, 9);
  });

  it.each([0.01, 0.1, 0.3])("else is Marquardt's of the length %d, give or take a tenth", (radius) => {
    const { step, damping } = dampedStep(factors, rotated, scales, radius);
    expect(damping).toBeGreaterThan(0);
    expect(Math.abs(scaledNorm(step, scales) / radius - 1)).toBeLessThan(0.1001);
    for (const slope of gradientAt(step, damping)) expect(slope).toBeCloseTo(0, 8);
  });

  it("stands columns that depend on each other", () => {
    const flat = factorize(Float64Array.of(1, 2, 1, 2, 1, 2), 3, 2);
    const right = Float64Array.of(3, 1, 2);
    applyTransposed(flat, right);
    const { step } = dampedStep(flat, right, Float64Array.of(1, 1), 0.5);
    expect(Math.abs(Math.hypot(...step) / 0.5 - 1)).toBeLessThan(0.11);
  });

  it("scaledNorm() is the length in scaled coordinates", () => {
    expect(scaledNorm(Float64Array.of(3, 2, 0), scales)).toBe(5);
  });
});

describe("uncertaintyBudget() by hand", () => {
  const rows = [
    { source: "depth" as const, value: 1, unit: "V" as const, u: 3, sensitivity: 1 },
    { source: "bus-voltage" as const, value: 1, unit: "V" as const, u: 2, sensitivity: -2 },
  ];
  const head = { quantity: "depth" as const, load: "a", unit: "V" as const, value: 7 };

  it("adds in squares, with each row's share", () => {
    const budget = uncertaintyBudget(rows, head);
    expect(budget).toMatchObject({ ...head, u: 5, method: "first-order" });
    expect(budget.rows.map(({ share }) => share)).toEqual([9 / 25, 16 / 25].map((v) => expect.closeTo(v, 12)));
    expect(uncertaintyBudget(rows, { ...head, method: "likelihood" }).method).toBe("likelihood");
    const sure = uncertaintyBudget(
      rows.map((row) => ({ ...row, u: 0 })),
      head,
    );
    expect([sure.u, sure.rows[0]!.share]).toEqual([0, 0]);
  });

  it("counts correlations: 9 + 16 - 2 x 0.5 x 12", () => {
    const budget = uncertaintyBudget(rows, { ...head, correlation: Float64Array.of(1, 0.5, 0.5, 1) });
    expect(budget.u).toBeCloseTo(Math.sqrt(13), 12);
    expect(budget.rows.map(({ share }) => share)).toEqual([3 / 13, 10 / 13].map((v) => expect.closeTo(v, 12)));
    expect(() => uncertaintyBudget(rows, { ...head, correlation: Float64Array.of(1) })).toThrow(
      "a correlation matrix of 4, got 1",
    );
    // Two that cancel leave nothing, and no root of a rounding below nothing.
    const opposed = rows.map((row) => ({ ...row, u: 3, sensitivity: Math.sign(row.sensitivity) }));
    expect(uncertaintyBudget(opposed, { ...head, correlation: Float64Array.of(1, 1, 1, 1) }).u).toBe(0);
  });

  it("rectangularU() and Welch and Satterthwaite: JCGM 100, 4.3.7 and G.2b", () => {
    expect(rectangularU(3)).toBeCloseTo(Math.sqrt(3), 12);
    // (9 + 16)^2 / (81 / 4 + 256 / 8).
    expect(effectiveDegreesOfFreedom(Float64Array.of(3, 4), Float64Array.of(4, 8))).toBeCloseTo(625 / 52.25, 12);
    // Parts that are sure have no freedom to lose.
    expect(effectiveDegreesOfFreedom(Float64Array.of(0, 0), Float64Array.of(4, 8))).toBe(Number.POSITIVE_INFINITY);
    const endless = Float64Array.of(Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY);
    expect(effectiveDegreesOfFreedom(Float64Array.of(3, 4), endless)).toBe(Number.POSITIVE_INFINITY);
  });
});
