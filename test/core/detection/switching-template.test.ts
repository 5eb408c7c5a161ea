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

/** A needle's own equation `y'' = (u - y) / period^2 - 2 damping y' / period`, by the explicit midpoint rule in steps of 1 ms. */
function swung(timesS: Float64Array, shape: DipShape): Float64Array {
  const h = 1e-3;
  const { lagS: periodS, dampingRatio = 1 } = shape;
  const currentAt = (t: number) =>
    onTimes.reduce((sum, { onsetS, releaseS }) => {
      const since = t - onsetS;
      return since < 0 || t >= releaseS ? sum : sum + 1 + shape.inrush * Math.exp(-since / shape.settleS);
    }, 0);
  let place = 0;
  let speed = 0;
  let t = 0;
  const pull = (at: number, y: number, v: number) =>
    (currentAt(at) - y) / periodS ** 2 - (2 * dampingRatio * v) / periodS;
  return timesS.map((until) => {
    for (; t < until - 1e-9; t += h) {
      const placeMiddle = place + (h / 2) * speed;
      const speedMiddle = speed + (h / 2) * pull(t, place, speed);
      place += h * speedMiddle;
      speed += h * pull(t + h / 2, placeMiddle, speedMiddle);
    }
    return -place;
  });
}

/** The meter's and the battery's differential equations by the explicit midpoint rule in steps of 1 ms. */
function integrated(timesS: Float64Array, shape: DipShape): Float64Array {
  const h = 1e-3;
  const currentAt = (t: number) =>
    onTimes.reduce((sum, { onsetS, releaseS }) => {
      const since = t - onsetS - shape.shiftS;
      return since < 0 || t >= releaseS + shape.shiftS
        ? sum
        : sum + 1 + shape.inrush * Math.exp(-since / shape.settleS);
    }, 0);
  const settledAt = (t: number) =>
    onTimes.some(({ onsetS, releaseS }) => t >= onsetS + shape.shiftS && t < releaseS + shape.shiftS) ? 1 : 0;
  let meter = 0;
  let battery = 0;
  let t = 0;
  return timesS.map((until) => {
    for (; t < until - 1e-9; t += h) {
      const middle = t + h / 2;
      const batteryMiddle =
        battery + (h / 2) * ((shape.polarization * settledAt(middle) - battery) / shape.polarizationS);
      const meterMiddle = meter + (h / 2) * ((currentAt(middle) - meter) / shape.lagS);
      battery += (h * (shape.polarization * settledAt(middle) - batteryMiddle)) / shape.polarizationS;
      meter += (h * (currentAt(middle) - meterMiddle)) / shape.lagS;
    }
    return -meter - battery;
  });
}

describe("dipTemplate()", () => {
  const timesS = Float64Array.from({ length: 60 }, (_, i) => 0.337 * i);

  it.each([
    ["a needle that swings", { lagS: 0.08, dampingRatio: 0.6 }],
    ["one that swings slowly", { lagS: 0.4, dampingRatio: 0.3 }],
    ["one that swings after a cold heater", { lagS: 0.15, dampingRatio: 0.65, inrush: 0.8, settleS: 1.4 }],
  ] as const)("%s: solves the differential equation of the needle", (_name, changed) => {
    const shape = { ...plain, ...changed };
    const expected = swung(timesS, shape);
    const found = dipTemplate(timesS, 0, onTimes, shape);
    for (let i = 0; i < timesS.length; i++)
      expect(Math.abs(found[i]! - expected[i]!), `t ${timesS[i]}`).toBeLessThan(0.03);
  });

  it.each([
    ["lag alone", { lagS: 0.3 }],
    ["lag and inrush", { lagS: 0.3, inrush: 0.8, settleS: 1.4 }],
    ["lag as long as the settling", { lagS: 1.5, inrush: 0.8, settleS: 1.5 }],
    ["polarisation", { lagS: 0.2, polarization: 0.4, polarizationS: 8 }],
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
