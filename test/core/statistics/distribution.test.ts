import { describe, expect, it } from "vitest";
import {
  chiSquareCdf,
  chiSquareQuantile,
  chiSquareSurvival,
  normalCdf,
  normalQuantile,
  normalSurvival,
  studentTCdf,
  studentTQuantile,
  studentTSurvival,
} from "../../../src/core/statistics/distribution.js";

// Expected values: python3, scipy 1.17.1, repr of stats.norm.sf(x), stats.norm.ppf(p), stats.t.sf(t, v),
// stats.t.ppf(p, v), stats.chi2.sf(x, v), stats.chi2.ppf(p, v).

function relativeError(got: number, want: number): number {
  return Math.abs(got / want - 1);
}

describe("normal distribution", () => {
  it.each([
    [-8, 0.9999999999999993],
    [-1.5, 0.9331927987311419],
    [0.3, 0.3820885778110474],
    [1.959963984540054, 0.025],
    [6, 9.865876450376946e-10],
    [7.5, 3.1908916729108844e-14],
    [12, 1.776482112077653e-33],
  ])("normalSurvival(%d) agrees with scipy to 13 digits", (x, want) => {
    expect(relativeError(normalSurvival(x), want)).toBeLessThan(1e-13);
    expect(relativeError(normalCdf(-x), want)).toBeLessThan(1e-13);
  });

  it.each([
    [1e-12, -7.034483825301131],
    [0.00135, -2.9999769927033935],
    [0.2, -0.8416212335729142],
    [0.975, 1.959963984540054],
    [0.999, 3.090232306167813],
  ])("normalQuantile(%d) agrees with scipy to 13 digits", (p, want) => {
    expect(relativeError(normalQuantile(p), want)).toBeLessThan(1e-13);
  });

  it("normalQuantile() is unbounded at 0 and 1, zero at one half", () => {
    expect([normalQuantile(0), normalQuantile(0.5), normalQuantile(1)]).toEqual([-Infinity, 0, Infinity]);
  });
});

describe("Student's t distribution", () => {
  it.each([
    [-1.2, 3.5, 0.8474927573110678],
    [0.5, 2, 0.33333333333333337],
    [2.5, 9, 0.016930913841492867],
    [4, 4.7, 0.005848639606636213],
    [3, 30, 0.0026949820328259727],
    [7, 50, 3.000468114425896e-9],
    [40, 6, 8.159180465271234e-9],
    [7.2, 1e4, 3.2273639747697043e-13],
  ])("studentTSurvival(%d, %d) agrees with scipy to 12 digits", (t, dof, want) => {
    expect(relativeError(studentTSurvival(t, dof), want)).toBeLessThan(1e-12);
    expect(relativeError(studentTCdf(-t, dof), want)).toBeLessThan(1e-12);
  });

  it.each([
    [0.975, 4, 2.7764451051977934],
    [0.995, 16, 2.9207816224251],
    [0.95, 3, 2.3533634348018233],
    [0.6, 2.5, 0.2814595127485477],
    [1e-6, 7.3, -13.493523060744641],
    [1e-10, 20, -11.740060452456985],
    [0.975, 1e5, 1.9599877075346095],
  ])("studentTQuantile(%d, %d) agrees with scipy to 12 digits", (p, dof, want) => {
    expect(relativeError(studentTQuantile(p, dof), want)).toBeLessThan(1e-12);
  });

  it("studentTSurvival(t, infinity) is the normal survival", () => {
    expect(studentTSurvival(2.5, Number.POSITIVE_INFINITY)).toBe(normalSurvival(2.5));
  });

  it("studentTSurvival() of one degree of freedom is the Cauchy distribution", () => {
    for (const t of [1e-3, 0.7, 3, 1e4]) {
      expect(relativeError(studentTSurvival(t, 1), Math.atan(1 / t) / Math.PI)).toBeLessThan(1e-13);
    }
  });
});

describe("chi-square distribution", () => {
  it.each([
    [0.5, 1, 0.47950012218695337],
    [3, 2.5, 0.30584962944581906],
    [20, 9, 0.017912404529843298],
    [150, 60, 1.1612157500765441e-9],
    [80, 12, 4.127308729731743e-12],
    [1100, 1000, 0.014614408126295192],
  ])("chiSquareSurvival(%d, %d) agrees with scipy to 12 digits", (x, dof, want) => {
    expect(relativeError(chiSquareSurvival(x, dof), want)).toBeLessThan(1e-12);
  });

  it.each([
    [0.025, 9, 2.7003894999803584],
    [0.975, 9, 19.02276779864163],
    [0.001, 0.7, 3.860163955064886e-9],
    [0.95, 1, 3.841458820694124],
    [0.5, 200.5, 199.83372884624566],
    [0.999, 3, 16.26623619623813],
  ])("chiSquareQuantile(%d, %d) agrees with scipy to 12 digits", (p, dof, want) => {
    expect(relativeError(chiSquareQuantile(p, dof), want)).toBeLessThan(1e-12);
  });

  it("no sum of squares is below zero", () => {
    for (const dof of [1, 2, 3, 7.5]) {
      for (const x of [-3, -1e-9, 0]) expect([chiSquareCdf(x, dof), chiSquareSurvival(x, dof)]).toEqual([0, 1]);
    }
  });

  it("chiSquareCdf() of two degrees of freedom is 1 - exp(-x/2)", () => {
    for (const x of [1e-9, 0.3, 5]) expect(relativeError(chiSquareCdf(x, 2), -Math.expm1(-x / 2))).toBeLessThan(1e-13);
  });
});

describe("wrong arguments", () => {
  it("a quantile refuses a probability outside 0 to 1", () => {
    expect(() => normalQuantile(1.2)).toThrow(
      "Cannot take a quantile: the probability must lie between 0 and 1, got 1.2",
    );
  });

  it("studentTSurvival() refuses no degrees of freedom", () => {
    expect(() => studentTSurvival(1, 0)).toThrow("Cannot use a distribution: degrees of freedom must be > 0, got 0");
  });
});
