// Flow of the Nile at Aswan, 1871 to 1970 (Cobb, Biometrika 65, 1978). Break after observation 28 (1898): R 4.2.2,
// strucchange 1.5-3, breakpoints(Nile ~ 1), which also gives the residual sums of squares 2835157 and 1597457, and for 0
// to 5 breaks, segments of 15 years or more, the Bayesian information criterion 1318, 1270, 1276, 1285, 1292, 1311. Three
// and five breaks are optimal for no penalty.
import { describe, expect, it } from "vitest";
import { changePoints } from "../../src/core/detection/change-point.js";
import { lagOneAutocorrelation } from "../../src/core/statistics/autocorrelation.js";
import { meanAndDeviation } from "../../src/core/statistics/mean-and-deviation.js";
import { dataColumns, lastDigits } from "./data-files.js";

const [years, flow] = dataColumns("change-point/nile.csv");

describe("Nile 1871-1970", () => {
  it("changePoints() breaks once, so that the new level starts at index 28, the year after 1898", () => {
    const variance = meanAndDeviation(flow.subarray(0, 28)).deviation ** 2;
    const { starts, levels } = changePoints(flow, { penalty: 2 * variance * Math.log(flow.length) });
    expect(starts).toEqual(Int32Array.of(0, 28));
    expect(years[starts[1]]).toBe(1899);
    expect(lastDigits(levels[0], "1097.75")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(levels[1], "849.9722")).toBeLessThanOrEqual(0.5);
  });

  it("changePoints() reaches strucchange's residual sums of squares without and with the break", () => {
    const none = changePoints(flow, { penalty: 1e9 });
    expect(none.starts.length).toBe(1);
    expect(lastDigits(none.cost, "2835157")).toBeLessThanOrEqual(0.5);
    const once = changePoints(flow, { penalty: 400_000 });
    expect(once.starts.length).toBe(2);
    expect(lastDigits(once.cost - 400_000, "1597457")).toBeLessThanOrEqual(0.5);
  });

  it("the deviations before and after are 134.9962 and 124.7764, the autocorrelation 0.498408184", () => {
    expect(lastDigits(meanAndDeviation(flow.subarray(0, 28)).deviation, "134.9962")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(meanAndDeviation(flow.subarray(28)).deviation, "124.7764")).toBeLessThanOrEqual(0.5);
    expect(lastDigits(lagOneAutocorrelation(flow), "0.498408184")).toBeLessThanOrEqual(0.5);
  });

  it.each([
    [0, 2e6, "1318"],
    [1, 2e5, "1270"],
    [2, 3e4, "1276"],
    [4, 2e4, "1292"],
  ])(
    "changePoints() with segments of 15 years or more: %d breaks have the criterion of strucchange",
    (breaks, penalty, printed) => {
      const { starts, cost } = changePoints(flow, { penalty, minimumLength: 15 });
      expect(starts.length - 1).toBe(breaks);
      const squares = cost - penalty * breaks;
      const count = flow.length;
      // A level for each segment, the breaks themselves, and the variance are counted.
      const criterion = count * (Math.log((2 * Math.PI * squares) / count) + 1) + Math.log(count) * (2 * breaks + 2);
      expect(lastDigits(criterion, printed)).toBeLessThanOrEqual(0.5);
    },
  );
});
