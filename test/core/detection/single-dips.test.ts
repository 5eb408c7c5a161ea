import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import {
  oneHalfOnly,
  type SingleDip,
  singleDips,
  switchingsDisagree,
} from "../../../src/core/detection/single-dips.js";

const dip = (depthV: number, uDepthV = 0.01): SingleDip => ({
  load: "a",
  onTime: { onsetS: 0, releaseS: 5 },
  depthV,
  uDepthV,
  referenceV: 24,
});

describe("switchingsDisagree()", () => {
  it.each([
    ["equal dips", [0.1, 0.11, 0.09], false],
    ["one of three shows everything", [0.3, 0.002, -0.004], true],
    ["two of three show, one nothing", [0.1, 0.105, 0.001], true],
    ["one opposes the others", [0.1, 0.1, -0.08], true],
    ["a first, cold heating twice as deep as the others", [0.2, 0.1, 0.1], false],
    ["nothing anywhere", [0.003, -0.008, 0.011], false],
    ["a single switching", [0.3], false],
    ["none", [], false],
  ] as const)("%s", (_name, depths, expected) => {
    expect(switchingsDisagree(depths.map((depthV) => dip(depthV)))).toBe(expected);
  });

  it("weighs each dip by its uncertainty: a poor one that shows nothing is no reason", () => {
    expect(switchingsDisagree([dip(0.1), dip(0.1), dip(0.02, 0.06)])).toBe(false);
  });

  it("does not hang on the order or the unit", () => {
    for (const depths of [
      [0.3, 0, 0.01],
      [0.01, 0.3, 0],
      [0, 0.01, 0.3],
    ]) {
      expect(switchingsDisagree(depths.map((depthV) => dip(depthV)))).toBe(true);
      expect(switchingsDisagree(depths.map((depthV) => dip(1000 * depthV, 10)))).toBe(true);
    }
  });

  it("calls no more than one in a thousand agreeing loads disagreeing", () => {
    const random = randomSource(17);
    let wrong = 0;
    for (let k = 0; k < 10_000; k++) {
      if (switchingsDisagree(Array.from({ length: 3 }, () => dip(0.04 + 0.01 * random.normal())))) wrong += 1;
    }
    // At 0.1 % ten are expected at the most; 24 have a chance of 1e-4.
    expect(wrong).toBeLessThan(24);
  });
});

describe("oneHalfOnly()", () => {
  /** Whether halves of 1 mV and 100 mV count as different for given variances and covariance, in units of 1e-4 V2. */
  const differ = (first: number, second: number, together: number) => {
    const response = {
      refined: null,
      onTimes: [{ onsetS: 2, releaseS: 6 }],
      shape: { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 },
    } as unknown as MarkedResponse;
    const joint = {
      depthsV: [0.001, 0.1],
      covarianceV2: Float64Array.of(first, together, together, second).map((v) => 1e-4 * v),
    };
    const design = { series: { timesS: Float64Array.of(0, 1, 2, 3), blockS: 0 }, jointDepths: () => joint };
    return oneHalfOnly({ design, fit: { noise: {} }, responses: [response] } as unknown as MarkedDetection, response);
  };

  it("asks of the two halves 3.3 times the uncertainty of their difference: variances less twice the covariance", () => {
    // 99 mV over 3.3 are 30 mV: a variance of 9 units.
    expect(differ(4, 4.9, 0)).toBe(true);
    expect(differ(4, 5.1, 0)).toBe(false);
    expect(differ(10, 10, 5.6)).toBe(true);
    expect(differ(10, 10, 5.4)).toBe(false);
    expect(differ(4, 4, -0.6)).toBe(false);
  });
});

describe("singleDips()", () => {
  it("states the fitted level of the reading nearest to the middle of the dip", () => {
    const referenceV = (onsetS: number, releaseS: number) => {
      const response = {
        id: "a",
        refined: null,
        scaleSd: 0,
        onTimes: [{ onsetS, releaseS }],
        shape: { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 },
      } as unknown as MarkedResponse;
      const joint = {
        depthsV: [0.1],
        covarianceV2: Float64Array.of(1e-4),
        driftV: Float64Array.of(24, 24.1, 24.2, 24.3, 24.4),
      };
      const design = { series: { timesS: Float64Array.of(0, 1, 2, 6, 7), blockS: 0 }, jointDepths: () => joint };
      return singleDips({ design, fit: { noise: {} }, responses: [response] } as unknown as MarkedDetection).dips[0]!
        .referenceV;
    };
    // Middles at 3.9, 4.1 and 1.4 s.
    expect(referenceV(1.8, 6)).toBe(24.2);
    expect(referenceV(1.8, 6.4)).toBe(24.3);
    expect(referenceV(0.4, 2.4)).toBe(24.1);
  });
});
