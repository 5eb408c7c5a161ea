// Ratios of array GBM29, 193 values (Bredel et al. 2005; fig. 4 of Lai et al., Bioinformatics 21, 2005). The best six
// breaks with segments of at least three values, 81, 85, 89, 96, 123, 133, and their residual sum of squares 58.57 were
// recomputed with R 4.2.2, strucchange 1.5-3; the same six are recalled from Killick & Eckley, J. Stat. Softw. 58 (2014)
// (from memory).
import { describe, expect, it } from "vitest";
import { changePoints } from "../../src/core/detection/change-point.js";
import { dataColumns, lastDigits } from "./data-files.js";

const [ratios] = dataColumns("change-point/array-cgh-gbm29.csv");

describe("array GBM29", () => {
  it("changePoints() finds the six published breaks, segments of four to seven values among them", () => {
    // Any penalty that buys six breaks gives the best six.
    const penalty = 3;
    const { starts, cost } = changePoints(ratios, { penalty, minimumLength: 3 });
    expect(starts).toEqual(Int32Array.of(0, 81, 85, 89, 96, 123, 133));
    expect(lastDigits(cost - 6 * penalty, "58.57")).toBeLessThanOrEqual(0.5);
  });
});
