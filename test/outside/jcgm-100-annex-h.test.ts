// JCGM 100:2008 (GUM), annex H: examples H.1 (gauge block), H.2 (resistance and reactance measured together) and H.3
// (calibration line of a thermometer). H.2 results as printed there and in the GTC documentation (u(X) 0.296 here, 0.295
// in print from rounded inputs); H.3 results recomputed, equal to the printed ones (from memory); degrees of freedom of
// H.1 from memory, its second-order terms as printed in H.1.7 (34 nm).
import { describe, expect, it } from "vitest";
import { monteCarlo } from "../../src/core/estimation/monte-carlo.js";
import { effectiveDegreesOfFreedom, uncertaintyBudget } from "../../src/core/estimation/uncertainty-budget.js";
import { studentTQuantile } from "../../src/core/statistics/distribution.js";
import { polynomialFit } from "../../src/core/statistics/linear-regression.js";
import { meanAndDeviation } from "../../src/core/statistics/mean-and-deviation.js";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { dataText, lastDigits } from "./data-files.js";

function columns(name: string): Float64Array[] {
  const rows = dataText(name)
    .trim()
    .split("\n")
    .slice(1)
    .map((line) => line.split(",").map(Number));
  return rows[0].map((_, k) => Float64Array.from(rows, (row) => row[k]));
}

const head = { quantity: "source-resistance", load: null, unit: "Ohm", value: 0 } as const;

describe("H.2, voltage, current and phase read together", () => {
  const data = columns("gum/GUM_H.2.csv");
  const summaries = data.map(meanAndDeviation);
  const [volts, amperes, phase] = summaries.map(({ mean }) => mean);
  const us = summaries.map(({ deviation }) => deviation / Math.sqrt(5));
  const correlation = Float64Array.from({ length: 9 }, (_, k) => {
    const [a, b] = [Math.floor(k / 3), k % 3];
    const products = data[a].reduce((sum, x, j) => sum + (x - summaries[a].mean) * (data[b][j] - summaries[b].mean), 0);
    return products / (4 * summaries[a].deviation * summaries[b].deviation);
  });
  const impedance = volts / amperes;
  const units = ["V", "A", "1"] as const;
  const results = [
    { name: "R", value: impedance * Math.cos(phase), byPhase: -impedance * Math.sin(phase) },
    { name: "X", value: impedance * Math.sin(phase), byPhase: impedance * Math.cos(phase) },
    { name: "Z", value: impedance, byPhase: 0 },
  ];
  const rowsOf = ({ value, byPhase }: (typeof results)[number]) =>
    [value / volts, -value / amperes, byPhase].map((sensitivity, k) => ({
      source: "measured-current" as const,
      value: summaries[k].mean,
      unit: units[k],
      u: us[k],
      sensitivity,
    }));

  it("means, uncertainties and correlations of the inputs are the printed ones", () => {
    expect(lastDigits(volts, "4.9990")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(1000 * amperes, "19.6610")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(phase, "1.04446")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(correlation[1], "-0.36")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(correlation[2], "0.86")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(correlation[5], "-0.65")).toBeLessThanOrEqual(0.5);
  });

  it.each([
    ["R", "127.732", "0.071", 0.1945],
    ["X", "219.847", "0.296", 0.2009],
    ["Z", "254.260", "0.236", 0.2041],
  ])("uncertaintyBudget() of %s: %s, u %s; without correlation it would be %d", (name, value, u, uncorrelated) => {
    const result = results.find((candidate) => candidate.name === name)!;
    expect(lastDigits(result.value, value)).toBeLessThanOrEqual(0.5);
    const rows = rowsOf(result);
    expect(lastDigits(uncertaintyBudget(rows, { ...head, correlation }).u, u)).toBeLessThanOrEqual(0.5);
    expect(Math.abs(uncertaintyBudget(rows, head).u - uncorrelated)).toBeLessThan(5e-5);
  });

  it("the shares add up to one, negative ones among them", () => {
    const { rows } = uncertaintyBudget(rowsOf(results[0]), { ...head, correlation });
    expect(rows.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 12);
  });
});

describe("H.3, calibration line", () => {
  const [temperatures, corrections] = columns("gum/GUM_H.3.csv");
  const fit = polynomialFit(
    temperatures.map((t) => t - 20),
    corrections,
  );

  it("intercept and slope at 20 degrees, their uncertainties, correlation and scatter", () => {
    expect(lastDigits(fit.coefficients[0], "-0.1712")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(fit.standardErrors[0], "0.0029")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(fit.coefficients[1], "0.00218")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(fit.standardErrors[1], "0.00067")).toBeLessThanOrEqual(0.5);
    expect(
      lastDigits(fit.covariance[1] / (fit.standardErrors[0] * fit.standardErrors[1]), "-0.930"),
    ).toBeLessThanOrEqual(0.5);
    expect(lastDigits(fit.residualDeviation, "0.0035")).toBeLessThanOrEqual(0.5);
  });

  it("the correction at 30 degrees is -0.1494, u 0.0041", () => {
    const at30 = fit.coefficients[0] + 10 * fit.coefficients[1];
    const u30 = Math.sqrt(fit.covariance[0] + 20 * fit.covariance[1] + 100 * fit.covariance[3]);
    expect(lastDigits(at30, "-0.1494")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(u30, "0.0041")).toBeLessThanOrEqual(0.5);
  });
});

describe("H.1, end gauge", () => {
  const lengthNm = 50_000_623;
  // Comparison standard, difference, difference of expansion, difference of temperature.
  const parts = Float64Array.of(25, 9.7, 0.58e-6 * lengthNm * 0.1, 0.029 * lengthNm * 11.5e-6);
  const dofs = Float64Array.of(18, 25.6, 50, 2);

  it("combined uncertainty 32 nm, 16 effective degrees of freedom, expanded uncertainty 93 nm at 99 %", () => {
    const rows = Array.from(parts, (part) => ({
      source: "depth" as const,
      value: 0,
      unit: "1" as const,
      u: part,
      sensitivity: 1,
    }));
    const { u } = uncertaintyBudget(rows, head);
    expect(lastDigits(u, "32")).toBeLessThanOrEqual(0.5);
    const dof = Math.floor(effectiveDegreesOfFreedom(parts, dofs));
    expect(dof).toBe(16);
    expect(lastDigits(studentTQuantile(0.995, dof) * u, "93")).toBeLessThanOrEqual(0.5);
  });

  it("H.1.7: 34 nm with the terms of second order, which monteCarlo() holds and the first order leaves out", () => {
    // The printed terms: 11.7 nm (expansion difference times temperature) and 1.7 nm (expansion times temperature difference).
    const second = [0.58e-6 * 0.41 * lengthNm, 1.2e-6 * 0.029 * lengthNm];
    expect(lastDigits(second[0], "11.7")).toBeLessThanOrEqual(2);
    expect(lastDigits(second[1], "1.7")).toBeLessThanOrEqual(0.5);
    const { u } = monteCarlo((random) => {
      const standard = lengthNm + 25 * random.normal();
      const difference = 215 + 9.7 * random.normal();
      const expansion = 11.5e-6 + 1.2e-6 * random.normal();
      const temperature = -0.1 + 0.41 * random.normal();
      const expansionDifference = 0.58e-6 * random.normal();
      const temperatureDifference = 0.029 * random.normal();
      return standard + difference - standard * (expansionDifference * temperature + expansion * temperatureDifference);
    }, randomGenerator(17));
    // 33.911 nm; the deviation of the drawn one is 0.05 nm.
    expect(Math.abs(u - 33.911)).toBeLessThan(0.25);
  });
});
