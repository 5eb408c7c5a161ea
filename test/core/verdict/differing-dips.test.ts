import { describe, expect, it } from "vitest";
import type { SingleDip } from "../../../src/core/detection/single-dips.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { spanningDips } from "../../../src/core/verdict/differing-dips.js";

const dipsOf = (depthsV: readonly number[], uDepthV = 0.01): SingleDip[] =>
  depthsV.map((depthV, k) => ({
    load: "probe",
    onTime: { onsetS: 10 * k, releaseS: 10 * k + 5 },
    depthV,
    uDepthV,
    referenceV: 24,
  }));
const depth = normalQuantity(0.1, 0.005, "V", "generalized-least-squares");

describe("spanningDips()", () => {
  it("leaves a depth whose switchings agree as it is, and one of a single switching", () => {
    expect(spanningDips(depth, dipsOf([0.09, 0.1, 0.115]))).toEqual(depth);
    expect(spanningDips(depth, dipsOf([0.1]))).toEqual(depth);
  });

  it("takes the t interval of many switchings: 2.262 s / sqrt(10), Student's table for 9 degrees of freedom", () => {
    const depthsV = [0.02, 0.18, 0.05, 0.15, 0.08, 0.12, 0.03, 0.17, 0.06, 0.14];
    const { low, high, u } = spanningDips(depth, dipsOf(depthsV));
    // Sum of squared differences from 0.1 is 2 (0.08^2 + 0.05^2 + 0.02^2 + 0.07^2 + 0.04^2) = 0.0316.
    const half = 2.2622 * Math.sqrt(0.0316 / 9 / 10);
    expect((high - low) / 2).toBeCloseTo(half, 5);
    expect(u).toBeCloseTo(half / 1.96, 4);
  });

  it("takes the hull of two switchings, for which the t interval tells nothing", () => {
    const { low, high } = spanningDips(depth, dipsOf([0.05, 0.15]));
    expect(low).toBeCloseTo(0.05 - 1.96 * 0.01, 4);
    expect(high).toBeCloseTo(0.15 + 1.96 * 0.01, 4);
  });

  it("widens from where the depths differ at 1 % of chi-square: 6.635 for two switchings, by the table", () => {
    // Depths d apart with 10 mV each: chi-square d^2 / (2 x 0.01^2).
    const apart = (chiSquare: number) => dipsOf([0.1, 0.1 + 0.01 * Math.sqrt(2 * chiSquare)]);
    expect(spanningDips(depth, apart(6.6))).toEqual(depth);
    expect(spanningDips(depth, apart(6.67))).not.toEqual(depth);
  });

  it("never narrows a depth, and keeps its value, unit and route", () => {
    const wide = normalQuantity(0.1, 0.2, "V", "generalized-least-squares");
    const spanned = spanningDips(wide, dipsOf([0.05, 0.15]));
    expect(spanned.low).toBe(wide.low);
    expect(spanned.high).toBe(wide.high);
    expect(spanned.u).toBeCloseTo(0.2, 12);
    expect(spanningDips(depth, dipsOf([0.05, 0.15]))).toMatchObject({ value: 0.1, unit: "V", route: depth.route });
  });

  it("reaches to the end of each switching's own interval, whichever is the surest", () => {
    const dips = dipsOf([0.05, 0.15]).map((dip, k) => ({ ...dip, uDepthV: k === 0 ? 0.02 : 0.001 }));
    const { low, high, u } = spanningDips(depth, dips);
    expect(low).toBeCloseTo(0.05 - 1.96 * 0.02, 4);
    expect(high).toBeCloseTo(0.15 + 1.96 * 0.001, 4);
    expect(u).toBeCloseTo((high - low) / 2 / 1.96, 4);
  });

  it("takes the t interval about the value, not about the plain mean", () => {
    const depthsV = [0.02, 0.18, 0.05, 0.15, 0.08, 0.12, 0.03, 0.17, 0.06, 0.14];
    const moved = normalQuantity(0.11, 0.005, "V", "generalized-least-squares");
    const { low, high } = spanningDips(moved, dipsOf(depthsV));
    expect((low + high) / 2).toBeCloseTo(0.11, 9);
  });
});
