import { describe, expect, it } from "vitest";
import { REFERENCE_TIME_S, slidingReference, thresholdDips } from "../../../src/core/estimation/threshold-dips.js";

const limits = { thresholdV: 23, hysteresisV: 0.5 };
const found = (...voltagesV: number[]) =>
  thresholdDips(
    Float64Array.from(voltagesV, (_, i) => 10 + i),
    Float64Array.from(voltagesV),
    limits,
  );

describe("thresholdDips()", () => {
  it("begin below the threshold and end at threshold plus hysteresis; residual is the lowest reading", () => {
    expect(found(24, 23, 22.9, 22, 22.5, 23.4, 23.5, 24)).toEqual([{ onsetS: 12, releaseS: 16, residualV: 22 }]);
    expect(found(24, 22, 24, 21, 24)).toEqual([
      { onsetS: 11, releaseS: 12, residualV: 22 },
      { onsetS: 13, releaseS: 14, residualV: 21 },
    ]);
  });

  it("stay open where the readings end first, and are none at the threshold itself", () => {
    expect(found(22.5, 22.8)).toEqual([{ onsetS: 10, releaseS: null, residualV: 22.5 }]);
    expect(found(23, 23, 23)).toEqual([]);
    expect(found()).toEqual([]);
  });
});

describe("slidingReference()", () => {
  const timesS = Float64Array.of(0, REFERENCE_TIME_S, 2 * REFERENCE_TIME_S);

  it("follows with a time constant of one minute: 0.33 % every 0.2 s", () => {
    expect(REFERENCE_TIME_S).toBeCloseTo(60.5, 1);
    const short = slidingReference(Float64Array.of(0, 0.2), Float64Array.of(0, 1), () => false);
    expect(short[1]).toBeCloseTo(0.0033, 9);
    const long = slidingReference(timesS, Float64Array.of(24, 25, 25), () => false);
    expect(long[0]).toBe(24);
    expect(long[1]).toBeCloseTo(25 - Math.exp(-1), 9);
    expect(long[2]).toBeCloseTo(25 - Math.exp(-2), 9);
  });

  it("stands still in a dip", () => {
    expect(Array.from(slidingReference(timesS, Float64Array.of(24, 20, 20), () => true))).toEqual([24, 24, 24]);
    const half = slidingReference(timesS, Float64Array.of(24, 20, 25), (k) => k === 1);
    expect(half[1]).toBe(24);
    expect(half[2]).toBeCloseTo(25 - Math.exp(-1), 9);
    expect(slidingReference(Float64Array.of(7), Float64Array.of(24), () => true)).toEqual(Float64Array.of(24));
    expect(slidingReference(new Float64Array(0), new Float64Array(0), () => true)).toHaveLength(0);
  });
});
