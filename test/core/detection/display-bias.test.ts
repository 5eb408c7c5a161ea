import { describe, expect, it } from "vitest";
import { displayBias, withFriction } from "../../../src/core/detection/display-bias.js";
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

  it("without noise is half a step on either mean: u = q / sqrt 6, a whole step at most", () => {
    const bias = displayBias(0.1, { ownNoiseV: 0, levelsV: [24] });
    expect(bias.uV).toBeCloseTo(0.1 / Math.sqrt(6), 12);
    expect(bias.mostV).toBeCloseTo(0.1, 12);
    expect(displayBias(0.1, { ownNoiseV: 0, levelsV: [] })).toEqual(bias);
  });

  it("falls as exp(-2 pi^2 s^2 / q^2), and is nothing below a ten-thousandth of half a step", () => {
    const at = (share: number) => displayBias(0.1, { ownNoiseV: 0.1 * share, levelsV: [24] }).mostV;
    expect(at(0.3) / at(0)).toBeCloseTo(Math.exp(-2 * Math.PI ** 2 * 0.09), 9);
    // 2 pi^2 x^2 = ln 1e4 at x = 0.6831.
    expect(at(0.683)).toBeGreaterThan(0);
    expect(at(0.684)).toBe(0);
  });

  it("averages over the half digits that the levels spread over, two to a switching less one", () => {
    const factor = (levelsV: number[]) => displayBias(0.1, { ownNoiseV: 0, levelsV }).uV / (0.1 / Math.sqrt(6));
    expect(factor([24, 24.049])).toBeCloseTo(1, 9);
    expect(factor([24, 24.051])).toBeCloseTo(1 / Math.sqrt(2), 9);
    expect(factor([24, 24.101])).toBeCloseTo(1 / Math.sqrt(3), 9);
    // Two switchings have two levels before and as many after: no more than four errors.
    expect(factor([24, 29])).toBeCloseTo(1 / 2, 9);
    expect(factor([24, 25, 29])).toBeCloseTo(1 / Math.sqrt(6), 9);
  });
});

describe("withFriction()", () => {
  it("adds up to twice the friction, rectangular: JCGM 100, F.2.2.2", () => {
    const bias = withFriction({ uV: 0.003, mostV: 0.01 }, 0.02);
    expect(bias.mostV).toBeCloseTo(0.05, 12);
    expect(bias.uV).toBeCloseTo(Math.hypot(0.003, 0.04 / Math.sqrt(3)), 12);
  });
});
