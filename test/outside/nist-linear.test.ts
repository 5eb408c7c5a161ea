// NIST Statistical Reference Datasets, linear regression: certified coefficients, standard deviations of the
// coefficients and residual standard deviation.
import { describe, expect, it } from "vitest";
import { polynomialFit } from "../../src/core/statistics/linear-regression.js";
import { dataColumns, dataText, matchingDigits } from "./data-files.js";

function norris(): { x: Float64Array; y: Float64Array } {
  const rows = dataText("nist/linear/Norris.dat")
    .split(/\r?\n/)
    .slice(60)
    .filter((line) => line.trim() !== "")
    .map((line) => line.trim().split(/\s+/).map(Number));
  return { y: Float64Array.from(rows, ([y]) => y), x: Float64Array.from(rows, ([, x]) => x) };
}

function columns(name: string): { x: Float64Array; y: Float64Array } {
  const [y, x] = dataColumns(`nist/linear/${name}.csv`);
  return { x, y };
}

describe("NIST StRD linear", () => {
  it.each([
    [
      "Norris",
      norris(),
      {},
      [-0.262323073774029, 1.00211681802045],
      [0.232818234301152, 0.429796848199937e-3],
      0.884796396144373,
    ],
    ["NoInt1", columns("NoInt1"), { intercept: false }, [2.07438016528926], [0.0165289256198347], 3.56753034006338],
    ["NoInt2", columns("NoInt2"), { intercept: false }, [0.727272727272727], [0.0420827318078432], 0.369274472937998],
    [
      "Pontius",
      columns("Pontius"),
      { degree: 2 },
      [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14],
      [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16],
      0.205177424076185e-3,
    ],
  ] as const)("%s: coefficients, their standard errors and the residual standard deviation", (...row) => {
    const [, { x, y }, options, coefficients, standardErrors, deviation] = row;
    const fit = polynomialFit(x, y, options);
    expect(fit.coefficients.length).toBe(coefficients.length);
    coefficients.forEach((certified, k) => {
      expect(matchingDigits(fit.coefficients[k], certified)).toBeGreaterThanOrEqual(11);
    });
    standardErrors.forEach((certified, k) => {
      expect(matchingDigits(fit.standardErrors[k], certified)).toBeGreaterThanOrEqual(10);
    });
    expect(matchingDigits(fit.residualDeviation, deviation)).toBeGreaterThanOrEqual(10);
  });

  it("Norris: R squared and the F statistic from the residuals", () => {
    const { x, y } = norris();
    const fit = polynomialFit(x, y);
    const mean = y.reduce((sum, value) => sum + value, 0) / y.length;
    const total = y.reduce((sum, value) => sum + (value - mean) ** 2, 0);
    expect(matchingDigits(1 - fit.residualSquares / total, 0.999993745883712)).toBeGreaterThanOrEqual(12);
    const f = (total - fit.residualSquares) / fit.residualDeviation ** 2;
    expect(matchingDigits(f, 5436385.54079785)).toBeGreaterThanOrEqual(9);
  });
});
