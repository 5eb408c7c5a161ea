import { describe, expect, it } from "vitest";
import type { DecayingTerm } from "../../../src/core/detection/decaying-response.js";
import { creepTerms, type DecayingInput, swingTerms } from "../../../src/core/detection/needle-response.js";

const inputs: readonly DecayingInput[] = [
  { rate: 1 / 3, size: 0.4 },
  { rate: 1 / 15, size: -0.25 },
];
const constant = 1.25;
const shown = (t: number) => constant + inputs.reduce((sum, { rate, size }) => sum + size * Math.exp(-rate * t), 0);
const sumAt = (terms: readonly DecayingTerm[], t: number) =>
  terms.reduce(
    (sum, { rate, angular, inPhase, quadrature }) =>
      sum + Math.exp(-rate * t) * (inPhase * Math.cos(angular * t) + quadrature * Math.sin(angular * t)),
    constant,
  );

/** Place and speed of a needle from rest by Runge and Kutta's fourth order in steps of 1 ms, every half second. */
function placesOf(speedUp: (t: number, place: number, speed: number) => readonly [number, number]): number[] {
  const h = 1e-3;
  let [y, v] = [0, 0];
  const places: number[] = [];
  for (let k = 0; k <= 3000; k++) {
    const t = k * h;
    if (k % 500 === 0) places.push(y);
    const [a1, b1] = speedUp(t, y, v);
    const [a2, b2] = speedUp(t + h / 2, y + (h / 2) * a1, v + (h / 2) * b1);
    const [a3, b3] = speedUp(t + h / 2, y + (h / 2) * a2, v + (h / 2) * b2);
    const [a4, b4] = speedUp(t + h, y + h * a3, v + h * b3);
    y += (h / 6) * (a1 + 2 * a2 + 2 * a3 + a4);
    v += (h / 6) * (b1 + 2 * b2 + 2 * b3 + b4);
  }
  return places;
}

describe("swingTerms()", () => {
  it("solve the needle's equation y'' / w^2 + 2 z y' / w + y = u from rest, the inputs' terms first", () => {
    const needle = { periodS: 0.15, dampingRatio: 0.6 };
    const w = 1 / needle.periodS;
    const found = swingTerms(needle, constant, inputs);
    placesOf((t, y, v) => [v, w * w * (shown(t) - y) - 2 * 0.6 * w * v]).forEach((place, k) => {
      expect(sumAt(found, k / 2)).toBeCloseTo(place, 6);
    });
    expect(found.slice(0, 2).map(({ rate, angular }) => [rate, angular])).toEqual([
      [1 / 3, 0],
      [1 / 15, 0],
    ]);
  });
});

describe("creepTerms()", () => {
  it("solve the needle's equation lag y' + y = u from rest", () => {
    const found = creepTerms(0.35, constant, inputs);
    placesOf((t, y) => [(shown(t) - y) / 0.35, 0]).forEach((place, k) => {
      expect(sumAt(found, k / 2)).toBeCloseTo(place, 6);
    });
  });

  it("are the inputs themselves where the needle does not lag", () => {
    expect(creepTerms(0, constant, inputs)).toHaveLength(2);
    for (const t of [0, 0.7, 4]) expect(sumAt(creepTerms(0, constant, inputs), t)).toBeCloseTo(shown(t), 12);
  });
});
