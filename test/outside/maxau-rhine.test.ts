import { describe, expect, it } from "vitest";
import { mannKendall } from "../../src/core/trend/mann-kendall.js";
import { theilSen } from "../../src/core/trend/theil-sen.js";
import { dataColumns } from "./data-files.js";

// Rhine at Maxau 1965-2009, suspended matter s and discharge Q: vignette of the R package trend (T. Pohlert).
describe("Rhine at Maxau", () => {
  const [year, s, Q] = dataColumns("trend/maxau-rhine.csv");

  it("mannKendall() of the discharge gives S -144, variance 10450, z -1.3989, p 0.1619, tau -0.1454545", () => {
    const test = mannKendall(Q);
    expect(test.s).toBe(-144);
    expect(test.varianceS).toBeCloseTo(10450, 6);
    expect(test.z).toBeCloseTo(-1.3989, 4);
    expect(test.pValue).toBeCloseTo(0.1619, 4);
    expect(test.tau).toBeCloseTo(-0.1454545, 7);
  });

  it("mannKendall() of the suspended matter gives z -3.8445, p 0.0001208", () => {
    const test = mannKendall(s);
    expect(test.z).toBeCloseTo(-3.8445, 4);
    expect(test.pValue).toBeCloseTo(0.0001208, 7);
  });

  it("theilSen() of the suspended matter gives -0.2876139 with 95 % interval -0.4196477 to -0.1519026", () => {
    const line = theilSen(year, s);
    expect(line.slope).toBeCloseTo(-0.2876139, 7);
    expect(line.low).toBeCloseTo(-0.4196477, 7);
    expect(line.high).toBeCloseTo(-0.1519026, 7);
  });
});
