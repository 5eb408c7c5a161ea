import { describe, expect, it } from "vitest";
import {
  type DipShape,
  dipTemplate,
  firstAtOrAfter,
  type OnTime,
} from "../../../src/core/detection/switching-template.js";

const plain: DipShape = { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
const onTimes: readonly OnTime[] = [
  { onsetS: 2.03, releaseS: 6.41 },
  { onsetS: 9.5, releaseS: 12.2 },
];

/**
 * The differential equations of battery and meter, `b' = (polarization i - b) / polarizationS` and a meter that is shown
 * `i + b` and creeps, `y' = (u - y) / lagS`, or swings, `y'' = (u - y) / lagS^2 - 2 dampingRatio y' / lagS`; by the explicit midpoint
 * rule in steps of 1 ms.
 */
function integrated(timesS: Float64Array, shape: DipShape): Float64Array {
  const h = 1e-3;
  const { lagS, dampingRatio, polarization, polarizationS } = shape;
  const currentAt = (t: number) =>
    onTimes.reduce((sum, { onsetS, releaseS }) => {
      const since = t - onsetS - shape.shiftS;
      return since < 0 || t >= releaseS + shape.shiftS
        ? sum
        : sum + 1 + shape.inrush * Math.exp(-since / shape.settleS);
    }, 0);
  const slopes = (t: number, [battery, place, speed]: readonly number[]): number[] => {
    const shown = currentAt(t) + battery!;
    const toBattery = (polarization * currentAt(t) - battery!) / polarizationS;
    if (dampingRatio === undefined) return [toBattery, (shown - place!) / lagS, 0];
    return [toBattery, speed!, (shown - place!) / lagS ** 2 - (2 * dampingRatio * speed!) / lagS];
  };
  let state: readonly number[] = [0, 0, 0];
  let t = 0;
  return timesS.map((until) => {
    for (; t < until - 1e-9; t += h) {
      const first = slopes(t, state);
      const second = slopes(
        t + h / 2,
        state.map((value, k) => value + (h / 2) * first[k]!),
      );
      state = state.map((value, k) => value + h * second[k]!);
    }
    return -state[1]!;
  });
}

describe("dipTemplate()", () => {
  const timesS = Float64Array.from({ length: 60 }, (_, i) => 0.337 * i);

  it.each([
    ["a needle that swings", { lagS: 0.08, dampingRatio: 0.6 }],
    ["one that swings slowly", { lagS: 0.4, dampingRatio: 0.3 }],
    ["one that swings after a cold heater", { lagS: 0.15, dampingRatio: 0.65, inrush: 0.8, settleS: 1.4 }],
    [
      "the same on a battery that polarises",
      { lagS: 0.15, dampingRatio: 0.65, inrush: 0.8, polarization: 0.4, polarizationS: 6 },
    ],
  ] as const)("%s: solves the differential equation of the needle", (_name, changed) => {
    const shape = { ...plain, ...changed };
    const expected = integrated(timesS, shape);
    const found = dipTemplate(timesS, 0, onTimes, shape);
    for (let i = 0; i < timesS.length; i++)
      expect(Math.abs(found[i]! - expected[i]!), `t ${timesS[i]}`).toBeLessThan(0.03);
  });

  it.each([
    ["lag alone", { lagS: 0.3 }],
    ["lag and inrush", { lagS: 0.3, inrush: 0.8, settleS: 1.4 }],
    ["lag as long as the settling", { lagS: 1.5, inrush: 0.8, settleS: 1.5 }],
    ["polarisation", { lagS: 0.2, polarization: 0.4, polarizationS: 8 }],
    ["polarisation by a cold heater", { lagS: 0.2, inrush: 1, settleS: 3, polarization: 0.4, polarizationS: 8 }],
    ["polarisation as slow as the settling", { lagS: 0.2, inrush: 1, settleS: 3, polarization: 0.4, polarizationS: 3 }],
    ["polarisation as fast as a slow needle", { lagS: 2, inrush: 0.5, polarization: 0.4, polarizationS: 2 }],
    ["everything, marks moved", { lagS: 0.7, inrush: 0.5, polarization: 0.3, polarizationS: 5, shiftS: 0.217 }],
  ] as const)("%s: solves the differential equations of meter and battery", (_name, changed) => {
    const shape = { ...plain, ...changed };
    const expected = integrated(timesS, shape);
    const found = dipTemplate(timesS, 0, onTimes, shape);
    // An edge falls inside a step of 1 ms of the integration: that is worth h / lag.
    for (let i = 0; i < timesS.length; i++)
      expect(Math.abs(found[i]! - expected[i]!), `t ${timesS[i]}`).toBeLessThan(0.008);
  });

  it("without lag is a rectangle", () => {
    const found = dipTemplate(Float64Array.of(1, 2, 2.04, 6.4, 6.42, 10, 12.3), 0, onTimes, plain);
    expect(Array.from(found, (v) => v + 0)).toEqual([0, 0, -1, -1, 0, -1, 0]);
  });

  it("is the sum of the templates of its dips, overlapping tails and all", () => {
    const shape = { ...plain, lagS: 1.5, inrush: 0.5, polarization: 0.4 };
    const both = dipTemplate(timesS, 0.1, onTimes, shape);
    const one = dipTemplate(timesS, 0.1, onTimes.slice(0, 1), shape);
    const two = dipTemplate(timesS, 0.1, onTimes.slice(1), shape);
    for (let i = 0; i < timesS.length; i++) expect(both[i]).toBeCloseTo(one[i]! + two[i]!, 12);
  });

  it("moves with the clock", () => {
    const shape = { ...plain, lagS: 0.3, inrush: 0.5, polarization: 0.4 };
    const later = onTimes.map(({ onsetS, releaseS }) => ({ onsetS: onsetS + 4096, releaseS: releaseS + 4096 }));
    const here = dipTemplate(timesS, 0.1, onTimes, shape);
    const there = dipTemplate(
      timesS.map((t) => t + 4096),
      0.1,
      later,
      shape,
    );
    for (let i = 0; i < timesS.length; i++) expect(there[i]).toBeCloseTo(here[i]!, 9);
  });

  it.each([
    ["lag and inrush", { lagS: 0.3, inrush: 0.5 }],
    ["a lag far below the block", { lagS: 0.004, inrush: 0.5, polarization: 0.3 }],
    ["a needle that swings", { lagS: 0.12, dampingRatio: 0.5, inrush: 0.5 }],
    ["no lag", { inrush: 0.5 }],
  ] as const)("%s: is the mean over its block, edges inside it and all", (_name, changed) => {
    const shape = { ...plain, ...changed };
    const blockS = 0.4;
    const found = dipTemplate(timesS, blockS, onTimes, shape);
    timesS.forEach((t, i) => {
      const fine = Float64Array.from({ length: 400 }, (_, k) => t + ((k + 0.5) / 400 - 0.5) * blockS);
      const mean = dipTemplate(fine, 0, onTimes, shape).reduce((sum, v) => sum + v, 0) / 400;
      // The mean of 400 points is off by half of one of them at a jump of 1.5 at the most.
      expect(Math.abs(found[i]! - mean), `t ${t}`).toBeLessThan(0.75 / 400 + 2e-4);
    });
  });
});

describe("firstAtOrAfter()", () => {
  it("finds the first of several equal times, and the length past the last", () => {
    const timesS = Float64Array.of(0, 1, 1, 1, 2);
    expect([-1, 0, 0.5, 1, 1.5, 2, 3].map((t) => firstAtOrAfter(timesS, t))).toEqual([0, 0, 1, 1, 4, 4, 5]);
  });
});
