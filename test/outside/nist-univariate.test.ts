// NIST Statistical Reference Datasets, univariate summary statistics: certified mean, standard deviation and lag-one
// autocorrelation as printed in each file.
import { describe, expect, it } from "vitest";
import { lagOneAutocorrelation } from "../../src/core/statistics/autocorrelation.js";
import { meanAndDeviation } from "../../src/core/statistics/mean-and-deviation.js";
import { dataText, matchingDigits } from "./data-files.js";

function readings(name: string): Float64Array {
  const lines = dataText(`nist/univariate/${name}.dat`).split(/\r?\n/);
  const isNumber = (line: string) => /^\s*-?[\d.]+\s*$/.test(line);
  let start = lines.length;
  while (start > 0 && (lines[start - 1].trim() === "" || isNumber(lines[start - 1]))) start--;
  return Float64Array.from(lines.slice(start).filter(isNumber), Number);
}

describe("NIST StRD univariate", () => {
  // Digits asked of the standard deviation: NumAcc3 and 4 lose some in the decimal input itself.
  it.each([
    ["NumAcc1", 3, 10000002, 1, -0.5, 15],
    ["NumAcc2", 1001, 1.2, 0.1, -0.999, 12],
    ["NumAcc3", 1001, 1000000.2, 0.1, -0.999, 9],
    ["NumAcc4", 1001, 10000000.2, 0.1, -0.999, 8],
    ["Mavro", 50, 2.001856, 0.000429123454003053, 0.937989183438248, 12],
    ["Michelso", 100, 299.8524, 0.0790105478190518, 0.535199668621283, 13],
    ["Lew", 200, -177.435, 277.332168044316, -0.307304800605679, 14],
    ["Lottery", 218, 518.95871559633, 291.699727470969, -0.120948622967393, 14],
    ["PiDigits", 5000, 4.5348, 2.86733906028871, -0.00355099287237972, 12],
  ])("%s: n, mean, standard deviation and r(1)", (name, count, mean, deviation, correlation, digits) => {
    const values = readings(name);
    const summary = meanAndDeviation(values);
    expect(values.length).toBe(count);
    expect(matchingDigits(summary.mean, mean)).toBeGreaterThanOrEqual(14);
    expect(matchingDigits(summary.deviation, deviation)).toBeGreaterThanOrEqual(digits);
    expect(matchingDigits(lagOneAutocorrelation(values), correlation)).toBeGreaterThanOrEqual(Math.min(digits, 12));
  });
});
