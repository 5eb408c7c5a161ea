import { describe, expect, it } from "vitest";
import type { SharedStep } from "../../../src/core/series/fine-offset.js";
import { residualNoise, stepHeight } from "../../../src/core/series/step-fit.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const even = (count: number, intervalS: number, startS = 0) =>
  Float64Array.from({ length: count }, (_, i) => startS + i * intervalS);
const noise = { sigmaV: 0.02, sigmaA: 0.1, correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 };

describe("stepHeight()", () => {
  it("is the difference of the levels on either side, and its uncertainty that of two means", () => {
    const timesS = even(10, 1);
    const values = Float64Array.of(1, 1.2, 0.8, 1, 5, 5.1, 4.9, 5, 5.2, 4.8);
    const { height, uHeight } = stepHeight({ timesS, values }, 3.5, 0, noise);
    expect(height).toBeCloseTo(4, 12);
    expect(uHeight).toBeCloseTo(0.02 * Math.sqrt(1 / 4 + 1 / 6), 12);
  });

  it("takes a slope off where twelve readings or more tell it", () => {
    const sloping = (count: number) => {
      const timesS = even(count, 1);
      return stepHeight({ timesS, values: timesS.map((t) => 0.5 * t + (t >= 6 ? 3 : 0)) }, 5.5, 0, noise).height;
    };
    expect(sloping(12)).toBeCloseTo(3, 9);
    expect(sloping(30)).toBeCloseTo(3, 9);
    // Eleven readings: means of 0..5 and 6..10, 5.5 s apart.
    expect(sloping(11)).toBeCloseTo(3 + 0.5 * 5.5, 9);
  });

  it("sees the step through the lag", () => {
    const timesS = even(40, 0.1);
    const values = timesS.map((t) => (t < 2 ? 1 : 1 - 0.3 * (1 - Math.exp(-(t - 2) / 0.4))));
    expect(stepHeight({ timesS, values }, 2, 0.4, noise).height).toBeCloseTo(-0.3, 9);
  });

  it("knows nothing of a step outside the window", () => {
    const window = { timesS: even(10, 1), values: even(10, 1) };
    expect(stepHeight(window, 20, 0, noise)).toEqual({ height: 0, uHeight: Number.POSITIVE_INFINITY });
    expect(stepHeight(window, -5, 0, noise)).toEqual({ height: 0, uHeight: Number.POSITIVE_INFINITY });
  });

  it("of correlated readings is as sure as a share (1 - r) / (1 + r) of independent ones", () => {
    const window = { timesS: even(10, 1), values: even(10, 1).map((t) => (t >= 5 ? 1 : 0)) };
    const plain = stepHeight(window, 4.5, 0, noise).uHeight;
    // sigmaV is what whitening leaves: the readings themselves scatter by 1 / sqrt(1 - r^2) more.
    const { uHeight } = stepHeight(window, 4.5, 0, { ...noise, correlationV: 0.6 });
    expect(uHeight / plain).toBeCloseTo((1 / 0.8) * Math.sqrt(1.6 / 0.4), 12);
  });
});

describe("residualNoise()", () => {
  const intervals = { voltageIntervalS: 0.1, currentIntervalS: 0.25 };
  /** Steps of -0.12 V and 6 A, 5 s of readings around each, AR(1) noise of the voltage. */
  function drawn(count: number, sigmaV: number, sigmaA: number, correlation = 0, seed = 1): SharedStep[] {
    const random = randomGenerator(seed);
    return Array.from({ length: count }, (_, k) => {
      const currentS = 10 * k + 5.05;
      let wander = random.normal() * sigmaV;
      const voltageTimesS = even(50, 0.1, currentS + 3 - 2.5);
      const values = voltageTimesS.map((t) => {
        wander = correlation * wander + Math.sqrt(1 - correlation ** 2) * sigmaV * random.normal();
        return 24 - (t >= currentS + 3 ? 0.12 : 0) + wander;
      });
      const currentTimesS = even(20, 0.25, currentS - 2.5);
      const currentsA = currentTimesS.map((t) => (t >= currentS ? 6 : 0) + sigmaA * random.normal());
      return {
        currentS,
        voltage: { timesS: voltageTimesS, values },
        current: { timesS: currentTimesS, values: currentsA },
      };
    });
  }

  it("finds the scatter of both series around their steps, wherever within the reach these are", () => {
    // 40 windows of 50 and 20 readings: standard deviations known to 1.6 % and 2.5 %; the onset is fitted to each.
    const found = residualNoise(drawn(40, 0.02, 0.3), intervals, 2.7, 0.5);
    expect(found).toMatchObject({ correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 });
    expect(Math.abs(found.sigmaV / 0.02 - 1)).toBeLessThan(0.07);
    expect(Math.abs(found.sigmaA / 0.3 - 1)).toBeLessThan(0.1);
  });

  it("counts the four numbers that are fitted to each window: the scatter of 5,000 readings within 5 %", () => {
    // Left uncounted they would make the current's scatter, of 20 readings a window, a tenth smaller.
    expect(Math.abs(residualNoise(drawn(250, 0.02, 0.3), intervals, 2.7, 0.5).sigmaA / 0.3 - 1)).toBeLessThan(0.05);
  });

  it("finds the correlation of neighbours, and then the scatter that whitening leaves", () => {
    const found = residualNoise(drawn(40, 0.02, 0.3, 0.6), intervals, 3, 0.5);
    expect(Math.abs(found.correlationV - 0.6)).toBeLessThan(0.1);
    // Whitened to unit innovations: the stationary deviation stays 20 mV on the first reading, and on the rest too.
    expect(Math.abs(found.sigmaV / 0.02 - 1)).toBeLessThan(0.15);
  });

  it("finds the correlation of eleven readings by hand", () => {
    // Off their two levels by these: products of neighbours sum to -4, squares to 16.
    const offV = [2, -2, 1, 0, -1, 1, 1, 1, -1, -1, -1];
    const values = Float64Array.from(offV, (v, i) => v + (i >= 5 ? 20 : 0));
    const step = { timesS: even(11, 1), values };
    const slow = { voltageIntervalS: 1, currentIntervalS: 0.25 };
    const found = residualNoise([{ currentS: 4.5, voltage: step, current: step }], slow, 0, 0.5);
    // (-4 / 16 + 4 / 11) / (1 - 6 / 11).
    expect(found.correlationV).toBeCloseTo(0.25, 9);
  });

  it("takes no instrument to step more cleanly than a hundredth of its step", () => {
    const found = residualNoise(drawn(10, 0, 0), intervals, 3, 0.5);
    expect(found.sigmaV).toBeCloseTo(0.0012, 6);
    expect(found.sigmaA).toBeCloseTo(0.06, 3);
    expect(found.correlationV).toBe(0);
  });
});
