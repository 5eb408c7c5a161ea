import { describe, expect, it } from "vitest";
import { currentNoise, currentSteps } from "../../../src/core/estimation/current-step.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** Readings at `rateHz` of a current given as a function of time, with white noise. */
function clamp(durationS: number, rateHz: number, sigmaA: number, currentA: (timeS: number) => number, seed = 1) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: Math.round(durationS * rateHz) }, (_, k) => k / rateHz);
  return { timesS, currentsA: timesS.map((timeS) => currentA(timeS) + sigmaA * random.normal()) };
}

const on = (fromS: number, toS: number) => (timeS: number) => (timeS >= fromS && timeS < toS ? 1 : 0);

describe("currentSteps()", () => {
  it("finds a load of 6 A on and off in noise of 0.1 A, with its change within four standard uncertainties (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      const found = currentSteps(clamp(60, 10, 0.1, (t) => 2 + 6 * on(20.05, 40.05)(t), seed));
      expect(found.map(({ onsetS }) => Math.round(onsetS * 100) / 100)).toEqual([20.05, 40.05]);
      for (const { deltaA, uDeltaA } of found) expect(Math.abs(Math.abs(deltaA) - 6)).toBeLessThan(4 * uDeltaA);
    }
  });

  it("takes a charging ramp 0, 10, 15, 18, 20, 22 A for no step", () => {
    const currentsA = Float64Array.from([0, 0, 0, 0, 0, 10, 15, 18, 20, 22, 22, 22, 22, 22]);
    expect(currentSteps({ timesS: currentsA.map((_, k) => k), currentsA })).toEqual([]);
  });

  it("finds nothing in a slow drift of 0.1 A/s (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      expect(currentSteps(clamp(60, 10, 0.05, (t) => 3 + 0.1 * t, seed))).toEqual([]);
    }
  });

  it("finds nothing but a stray reading in a steady current", () => {
    const current = clamp(60, 10, 0.02, () => 5);
    current.currentsA[300] = 30;
    expect(currentSteps(current)).toEqual([]);
  });

  it("finds no step beside stray readings on a steady, a drifting and a ramping current (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      for (const slope of [0, 0.1, 1]) {
        const current = clamp(60, 10, 0.05, (t) => 3 + slope * t, seed);
        for (const [k, to] of [
          [100, 30],
          [204, -40],
          [303, 90],
          [310, 200],
          [598, 500],
        ]) {
          current.currentsA[k!] = to!;
        }
        expect(currentSteps(current), `seed ${seed}, ${slope} A/s`).toEqual([]);
      }
    }
  });

  it("finds the step of 5 A that begins with an inrush of one reading, as of both intervals (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      for (const times of [3.5, 4, 8]) {
        const current = clamp(60, 10, 0.02, (t) => 2 + 5 * on(20.05, 40.05)(t), seed);
        current.currentsA[201] = 2 + times * 5;
        const [up, down, ...others] = currentSteps(current);
        expect(others).toEqual([]);
        expect(up).toMatchObject({ beforeS: 20, afterS: 20.2, quietToS: 40 });
        expect(up!.uOnsetS).toBeCloseTo(0.2 / Math.sqrt(12), 9);
        for (const step of [up!, down!]) expect(Math.abs(Math.abs(step.deltaA) - 5)).toBeLessThan(4 * step.uDeltaA);
      }
    }
  });

  it("finds one step on and one off for a heater that draws double when cold and settles in 3 s", () => {
    const heater = (t: number) => (t >= 20.05 && t < 45.05 ? 6 * (1 + Math.exp(-(t - 20.05) / 3)) : 0);
    const found = currentSteps(clamp(60, 10, 0.05, heater));
    expect(found.map(({ onsetS }) => Math.round(onsetS * 100) / 100)).toEqual([20.05, 45.05]);
    expect(Math.abs(found[0].deltaA / 12 - 1)).toBeLessThan(0.05);
    expect(Math.abs(found[1].deltaA / -6 - 1)).toBeLessThan(0.02);
  });

  it("finds the same steps in a megahertz of readings as in few", () => {
    const found = currentSteps(clamp(60, 5000, 0.1, (t) => 2 + 6 * on(20.0001, 40.0001)(t)));
    expect(found.map(({ onsetS }) => Math.round(onsetS * 1000) / 1000)).toEqual([20, 40]);
  });

  it("takes a change that a single averaged reading caught halfway for one step, of both intervals' uncertainty", () => {
    const currentsA = Float64Array.of(0, 0, 0, 0, 0, 14, 30, 30, 30, 30);
    const [step, ...others] = currentSteps({ timesS: currentsA.map((_, k) => k), currentsA });
    expect(others).toEqual([]);
    expect(step).toMatchObject({ beforeS: 4, afterS: 6, deltaA: 30, onsetS: 5 });
    expect(step.uOnsetS).toBeCloseTo(2 / Math.sqrt(12), 12);
  });

  it("counts the onset from the last old reading where the logger started its sampling anew", () => {
    const timesS = Float64Array.of(0, 60, 120, 180, 240, 240.5, 241, 241.5, 242, 242.5);
    const currentsA = Float64Array.of(0, 0, 0, 0, 0, 30, 30, 30, 30, 30);
    expect(currentSteps({ timesS, currentsA })[0]).toMatchObject({ onsetS: 240, uOnsetS: 0 });
    // In any unit of time.
    const quick = timesS.map((t) => t / 1024);
    expect(currentSteps({ timesS: quick, currentsA })[0]).toMatchObject({ onsetS: 240 / 1024, uOnsetS: 0 });
  });

  it("takes intervals for alike up to a twentieth apart: the two after the gap with it, and the two before with each other", () => {
    const currentsA = Float64Array.of(0, 0, 0, 0, 0, 30, 30, 30, 30, 30);
    const isAnew = (intervalsS: Readonly<Record<number, number>>) => {
      const timesS = new Float64Array(10);
      for (let k = 1; k < 10; k++) timesS[k] = timesS[k - 1]! + (intervalsS[k] ?? (k < 5 ? 60 : 0.5));
      return currentSteps({ timesS, currentsA })[0]!.uOnsetS === 0;
    };
    for (const [k, usualS] of [
      [6, 0.5],
      [7, 0.5],
      [3, 60],
    ] as const) {
      for (const sign of [1, -1]) {
        expect(isAnew({ [k]: usualS * (1 + 0.049 * sign) }), `interval ${k}`).toBe(true);
        expect(isAnew({ [k]: usualS * (1 + 0.051 * sign) }), `interval ${k}`).toBe(false);
      }
    }
  });

  it("gives the middle of the interval and its rectangular uncertainty otherwise", () => {
    const currentsA = Float64Array.of(0, 0, 0, 0, 0, 30, 30, 30, 30, 30);
    const [step] = currentSteps({ timesS: currentsA.map((_, k) => k), currentsA });
    expect(step.onsetS).toBe(4.5);
    expect(step.uOnsetS).toBeCloseTo(1 / Math.sqrt(12), 12);
  });

  it("knows a steady step as well as two levels of twenty readings with a drift common to both", () => {
    const current = clamp(60, 2, 0.05, (t) => 2 + 6 * on(30.25, 99)(t));
    const [step] = currentSteps(current);
    const { sigmaA, quantumA } = currentNoise(current.currentsA);
    expect(quantumA).toBe(0);
    // Two means of 20; a slope from 2 x 20 (20^2 - 1) / 12 carried over 20 intervals.
    const factor = Math.sqrt(2 / 20 + 20 ** 2 / ((2 * 20 * 399) / 12));
    expect(step!.uDeltaA / sigmaA).toBeCloseTo(factor, 9);
    expect(step).toMatchObject({ quietFromS: 0, quietToS: 59.5 });
    expect(Math.abs(step!.deltaA - 6)).toBeLessThan(4 * step!.uDeltaA);
    // A drift common to both sides is no part of the step.
    const [drifting] = currentSteps({ ...current, currentsA: current.currentsA.map((a, i) => a + 0.004 * i) });
    expect(drifting!.deltaA).toBeCloseTo(step!.deltaA, 1);
  });

  it("takes a change for none where the four readings before or after it slope by 0.4 of it, at the log's ends too", () => {
    const steps = (...currentsA: number[]) =>
      currentSteps({ timesS: Float64Array.from(currentsA, (_, k) => k), currentsA: Float64Array.from(currentsA) }).map(
        ({ onsetS, deltaA }) => [onsetS, deltaA],
      );
    const level = (amperes: number, count: number) => new Array<number>(count).fill(amperes);
    // 20 A over three intervals are 6.7 A each, more than 0.4 of 6 A.
    for (const more of [0, 20]) {
      expect(steps(...level(-20, 1 + more), 0, 0, 0, ...level(6, 20)), `${more} before`).toEqual([[more + 0.5, 20]]);
      // The last 20 A of these are steps of their own.
      expect(steps(...level(0, 3 + more), 6, 6, 6, ...level(26, 20)), `${more} before`).toEqual([[more + 5.5, 20]]);
    }
    // 2.5 times 6.7 A are 16.7 A.
    expect(steps(...level(10, 20), 30, 30, 30, ...level(46, 20))).toEqual([[19.5, 20]]);
    expect(steps(...level(10, 20), 30, 30, 30, ...level(47, 20))).toEqual([
      [19.5, 20],
      [22.5, 17],
    ]);
    // The slope before counts where too few readings follow, and the one after where too few come before.
    expect(steps(...level(10, 20), 30, 30, 30, ...level(46, 3))).toEqual([[19.5, 20]]);
    expect(steps(...level(-16, 3), 0, 0, 0, ...level(20, 20))).toEqual([[5.5, 20]]);
    // Fewer than four readings before or after show no slope.
    expect(steps(...level(0, 3), ...level(2, 20))).toEqual([[2.5, 2]]);
    expect(steps(...level(0, 20), ...level(2, 3))).toEqual([[19.5, 2]]);
  });

  it("counts no change of less than 2 % of the range, or than is asked for", () => {
    const beside = (amperes: number, minimumStepA?: number) =>
      currentSteps(
        clamp(60, 10, 0.001, (t) => 10 * on(10.05, 20.05)(t) + amperes * on(40.05, 50.05)(t)),
        minimumStepA === undefined ? {} : { minimumStepA },
      ).length;
    expect(beside(0.21)).toBe(4);
    expect(beside(0.19)).toBe(2);
    expect(beside(0.21, 0.5)).toBe(2);
    // The range of a clamp that sat the other way round is as wide.
    const turned = clamp(60, 10, 0.001, (t) => -10 * on(10.05, 20.05)(t) - 0.19 * on(40.05, 50.05)(t));
    expect(currentSteps(turned)).toHaveLength(2);
    expect(currentSteps({ timesS: Float64Array.of(0, 1), currentsA: Float64Array.of(0, 9) })).toEqual([]);
  });

  it("currentNoise() takes two levels for those of the load, and many for a display's", () => {
    const two = Float64Array.from({ length: 100 }, (_, i) => (i < 50 ? 1 : 6));
    expect(currentNoise(two).quantumA).toBe(0);
    const display = Float64Array.from({ length: 100 }, (_, i) => 0.1 * ((i * 7) % 23));
    expect(currentNoise(display).quantumA).toBeCloseTo(0.1, 9);
    expect(currentNoise(new Float64Array(20).fill(3)).sigmaA).toBeGreaterThanOrEqual(0);
  });
});
