import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { displayStepV } from "../../../src/core/noise/display-step.js";

function readings(count: number, sigmaV: number, show: (v: number) => number): Float64Array {
  const random = randomSource(3);
  return Float64Array.from({ length: count }, (_, i) => show(24 + 0.2 * Math.sin(i / 40) + sigmaV * random.normal()));
}

const rounded = (stepV: number) => (v: number) => Math.round(v / stepV) * stepV;

describe("displayStepV()", () => {
  it.each([0.1, 0.05, 0.01, 0.2, 1 / 30])("finds a step of %d V among noisy readings", (stepV) => {
    expect(displayStepV(readings(600, 0.05, rounded(stepV)))).toBeCloseTo(stepV, 9);
  });

  it("finds the step where the zero of the display does not lie on a multiple of it", () => {
    expect(displayStepV(readings(600, 0.05, (v) => rounded(0.1)(v) + 0.037))).toBeCloseTo(0.1, 9);
  });

  it("is null for readings that use more levels than any display has", () => {
    expect(displayStepV(readings(3000, 0.05, (v) => v))).toBeNull();
    expect(displayStepV(readings(3000, 0.05, rounded(1e-6)))).toBeNull();
  });

  it("finds a step of 1 mV at 24 V: only what the readings span counts", () => {
    expect(displayStepV(Float64Array.of(24, 24.001, 24.002, 24.001, 24.004))).toBeCloseTo(0.001, 9);
  });

  it("takes readings that span more than 30,000 times their least difference for no display's", () => {
    expect(displayStepV(Float64Array.of(0, 1, 30_000))).toBeCloseTo(1, 9);
    expect(displayStepV(Float64Array.of(0, 1, 30_001))).toBeNull();
    expect(displayStepV(Float64Array.of(-1, 0, 30_000))).toBeNull();
  });

  it("takes differences of a billionth of the readings, and of a volt, for rounding of the file", () => {
    const steppedBy = (lowest: number, stepV: number) =>
      displayStepV(Float64Array.of(lowest, lowest + stepV, lowest + 2 * stepV));
    expect(steppedBy(0, 0.95e-9)).toBeNull();
    expect(steppedBy(0, 1.05e-9)).toBeCloseTo(1.05e-9, 15);
    for (const lowest of [2 ** 20, -(2 ** 20)]) {
      // A step of 2^-10 is 9.3e-10 of 2^20, and exact.
      expect(steppedBy(lowest, 2 ** -10)).toBeNull();
      expect(steppedBy(lowest, 1.25 * 2 ** -10)).toBe(1.25 * 2 ** -10);
    }
  });

  it("finds the step of an analogue converter behind a divider, written with four decimals", () => {
    const stepV = 33 / 4096;
    const written = (v: number) => Number(rounded(stepV)(v).toFixed(4));
    // Each difference is known to 1e-4 V; over sixty levels the step is better known than 2 % of itself.
    expect(Math.abs(displayStepV(readings(600, 0.03, written))! / stepV - 1)).toBeLessThan(0.02);
  });

  it.each([
    [24.1, 0.1],
    [24, 1],
    [24.13, 0.01],
  ])("takes readings that never leave %d to step by their last decimal place", (value, stepV) => {
    expect(displayStepV(new Float64Array(100).fill(value))).toBeCloseTo(stepV, 12);
  });
});
