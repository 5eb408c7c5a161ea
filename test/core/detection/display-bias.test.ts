import { describe, expect, it } from "vitest";
import { displayBias } from "../../../src/core/detection/display-bias.js";
import { normalCdf } from "../../../src/core/statistics/distribution.js";

/** Mean of readings of a level with normal noise, rounded to whole steps, less the level: the sum over the steps. */
function roundingError(level: number, sigma: number): number {
  let mean = 0;
  for (let k = -8; k <= 8; k++) {
    const share =
      sigma > 0
        ? normalCdf((k + 0.5 - level) / sigma) - normalCdf((k - 0.5 - level) / sigma)
        : Number(Math.round(level) === k);
    mean += k * share;
  }
  return mean - level;
}

/** Errors of the mean depth over all places of the level and all depths up to two steps. */
function depthErrors(sigma: number, levels: readonly number[]): number[] {
  const errors: number[] = [];
  for (let place = 0; place < 1; place += 0.02) {
    for (let depth = 0; depth < 2; depth += 0.05) {
      const each = levels.map((level) => {
        const before = place + level;
        return roundingError(before, sigma) - roundingError(before - depth, sigma);
      });
      errors.push(each.reduce((sum, error) => sum + error, 0) / levels.length);
    }
  }
  return errors;
}

const rms = (values: readonly number[]) => Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);

describe("displayBias()", () => {
  it.each([0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5])("bounds every error of a depth at a noise of %d steps", (sigma) => {
    const { mostV } = displayBias(0.1, { ownNoiseV: 0.1 * sigma, levelsV: [24] });
    // The grid touches the worst place from inside; equal at no noise at all.
    for (const error of depthErrors(sigma, [0]))
      expect(Math.abs(0.1 * error)).toBeLessThanOrEqual(mostV * 1.0001 + 1e-12);
  });

  it.each([0, 0.1, 0.2, 0.3])(
    "has a standard uncertainty no smaller than the scatter of the errors at %d steps",
    (sigma) => {
      const { uV } = displayBias(0.1, { ownNoiseV: 0.1 * sigma, levelsV: [24] });
      const scatter = 0.1 * rms(depthErrors(sigma, [0]));
      expect(uV).toBeGreaterThan(0.98 * scatter);
      // And is of some use: not more than 45 % above it.
      expect(uV).toBeLessThan(1.45 * scatter);
    },
  );

  it("falls where the levels before the switchings spread over the digits", () => {
    const steady = displayBias(0.1, { ownNoiseV: 0.01, levelsV: [24, 24.003, 24.001] });
    const spread = displayBias(0.1, { ownNoiseV: 0.01, levelsV: [24, 24.037, 24.074] });
    expect(steady).toEqual(displayBias(0.1, { ownNoiseV: 0.01, levelsV: [24] }));
    expect(spread.uV).toBeLessThan(steady.uV);
    expect(spread.uV).toBeGreaterThan(0.098 * rms(depthErrors(0.1, [0, 0.37, 0.74])));
  });

  it("is a matter of digits: twice the step and the noise, twice the bias", () => {
    const one = displayBias(0.1, { ownNoiseV: 0.02, levelsV: [24] });
    const two = displayBias(0.2, { ownNoiseV: 0.04, levelsV: [24] });
    expect(two.uV).toBeCloseTo(2 * one.uV, 12);
    expect(two.mostV).toBeCloseTo(2 * one.mostV, 12);
  });
});
