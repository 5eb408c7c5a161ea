import { describe, expect, it } from "vitest";
import { CriticalOffset } from "../../../src/core/plan/critical-offset.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** One shape: its averaged score is the score itself. */
const single = { weights: Float64Array.of(1), correlations: Float64Array.of(1) };

describe("CriticalOffset", () => {
  it("of a single shape with known noise is the normal quantile: 2.326 for 1 %, 1.645 for 5 %", () => {
    const offset = new CriticalOffset();
    // The distribution of the score is drawn: it is off by some hundredths.
    expect(Math.abs(offset.criticalScore(single, 0.01, 0) - 2.326)).toBeLessThan(0.03);
    expect(Math.abs(offset.criticalScore(single, 0.05, 0) - 1.645)).toBeLessThan(0.03);
    // The first bank's offset serves for later ones.
    const two = { weights: Float64Array.of(0.5, 0.5), correlations: Float64Array.of(1, 0, 0, 1) };
    expect(offset.criticalScore(two, 0.01, 0)).toBe(offset.criticalScore(single, 0.01, 0));
  });

  it("of noise known to a factor only is higher: as drawn scores with that factor say", () => {
    const critical = new CriticalOffset().criticalScore(single, 0.01, 0.3);
    const random = randomGenerator(3);
    const count = 200_000;
    let beyond = 0;
    for (let k = 0; k < count; k++) if (random.normal() * Math.exp(0.3 * random.normal()) > critical) beyond += 1;
    expect(critical).toBeGreaterThan(2.5);
    // Four standard deviations of the count are 9 %; the sixteen strata cut the tail of the factor, by a little more.
    expect(beyond / count).toBeGreaterThan(0.008);
    expect(beyond / count).toBeLessThan(0.0125);
  });
});
