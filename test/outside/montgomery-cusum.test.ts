import { describe, expect, it } from "vitest";
import { cusum, firstBeyond } from "../../src/core/trend/control-chart.js";
import { dataColumns } from "./data-files.js";

// Montgomery & Runger, Applied Statistics and Probability for Engineers, example 16-6, table 16-8.
describe("Montgomery & Runger, example 16-6", () => {
  it("cusum() with target 99, K 1 gives the printed sums and no signal at H 10", () => {
    const [, x, highSums, lowSums] = dataColumns("trend/montgomery-cusum-16-6.csv");
    const { upper, lower } = cusum(x, 99, 1);
    highSums.forEach((printed, index) => {
      expect(upper[index], `high sum ${index + 1}`).toBeCloseTo(printed, 9);
    });
    lowSums.forEach((printed, index) => {
      expect(lower[index], `low sum ${index + 1}`).toBeCloseTo(printed, 9);
    });
    expect(firstBeyond(upper, 10)).toBeNull();
    expect(firstBeyond(lower, 10)).toBeNull();
  });
});
