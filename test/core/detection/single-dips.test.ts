import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { type SingleDip, switchingsDisagree } from "../../../src/core/detection/single-dips.js";

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
