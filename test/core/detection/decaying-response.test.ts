import { describe, expect, it } from "vitest";
import {
  type DecayingTerm,
  type Stretch,
  subtractStretch,
  termsFrom,
} from "../../../src/core/detection/decaying-response.js";

const terms: readonly DecayingTerm[] = [
  { rate: 0.7, angular: 0, inPhase: 0.5, quadrature: 0 },
  { rate: 0.4, angular: 2.3, inPhase: -0.3, quadrature: 0.8 },
  { rate: 0.9, angular: 1.7, inPhase: 0, quadrature: 0.6 },
];
const sumAt = (all: readonly DecayingTerm[], t: number) =>
  all.reduce(
    (sum, { rate, angular, inPhase, quadrature }) =>
      sum + Math.exp(-rate * t) * (inPhase * Math.cos(angular * t) + quadrature * Math.sin(angular * t)),
    0,
  );
const plain = (t: number) => sumAt(terms, t);
const stretch: Stretch = { startS: 2.03, endS: 6.41, constant: 0.25, terms };

describe("termsFrom()", () => {
  it("are the same sum seen from later", () => {
    for (const t of [0, 0.3, 1.7, 5]) expect(sumAt(termsFrom(terms, 0.9), t)).toBeCloseTo(plain(t + 0.9), 12);
  });
});

/** Mean of the stretch over a block by the midpoint rule in very small steps. */
function meanAround(timeS: number, blockS: number): number {
  const steps = 20_000;
  let sum = 0;
  for (let k = 0; k < steps; k++) {
    const t = timeS - blockS / 2 + ((k + 0.5) * blockS) / steps;
    if (t > stretch.startS && t <= stretch.endS) sum += stretch.constant + plain(t - stretch.startS);
  }
  return sum / steps;
}

describe("subtractStretch()", () => {
  it.each([
    ["even", (i: number) => 0.1 * i],
    ["nearly even", (i: number) => 0.1 * i + 1e-6 * ((i * 7) % 5)],
    ["uneven", (i: number) => 0.1 * i + 0.03 * ((i * 7) % 3)],
  ])("takes the value after the start and up to the end off readings of an instant, at %s times", (_, at) => {
    const timesS = Float64Array.from({ length: 90 }, (__, i) => at(i));
    const out = new Float64Array(90).fill(1);
    subtractStretch(out, timesS, 0, stretch);
    timesS.forEach((t, i) => {
      const inside = t > stretch.startS && t <= stretch.endS;
      expect(out[i], `${t}`).toBeCloseTo(1 - (inside ? 0.25 + plain(t - stretch.startS) : 0), 9);
    });
  });

  it.each([
    { rate: 1, angular: 0, inPhase: 1, quadrature: 0 },
    { rate: 0.3, angular: 2, inPhase: 0.6, quadrature: -0.8 },
    { rate: 2, angular: 0.5, inPhase: 0.3, quadrature: 0.9 },
  ])("keeps ten digits where all steps differ from the first by nearly a ten-thousandth of a decay: %j", (term) => {
    const longerS = 0.9e-4 / (term.rate + term.angular);
    const timesS = Float64Array.from({ length: 150 }, (_, i) => 0.02 * (i + 1) + longerS * Math.max(0, i - 2));
    const out = new Float64Array(150);
    subtractStretch(out, timesS, 0, { startS: 0, endS: 10, constant: 0, terms: [term] });
    // Of the exponential's series the third order is left out: 150 steps of (1e-4)^3 / 6 at the most.
    timesS.forEach((t, i) => {
      expect(out[i], `${t}`).toBeCloseTo(-sumAt([term], t), 10);
    });
  });

  it.each([0.1, 0.5, 2])("takes the mean over blocks of %d s off, those cut by start or end too", (blockS) => {
    const timesS = Float64Array.from({ length: 40 }, (_, i) => 0.23 * i);
    const out = new Float64Array(40);
    subtractStretch(out, timesS, blockS, stretch);
    timesS.forEach((t, i) => {
      expect(out[i], `${t}`).toBeCloseTo(-meanAround(t, blockS), 3);
    });
  });

  it("takes a stretch shorter than a block, and one within a single block, by its part of it", () => {
    const short = { ...stretch, startS: 1, endS: 1.2, terms: [] };
    const out = new Float64Array(3);
    subtractStretch(out, Float64Array.of(0, 1, 2), 1, short);
    expect(Array.from(out)).toEqual([0, expect.closeTo(-0.05, 12), 0]);
  });

  it("of a swift term leaves nothing behind once it is gone", () => {
    const swift = { ...stretch, constant: 0, terms: [{ rate: 5000, angular: 0, inPhase: 1, quadrature: 0 }] };
    const out = new Float64Array(60);
    subtractStretch(
      out,
      Float64Array.from({ length: 60 }, (_, i) => 0.1 * i),
      0.2,
      swift,
    );
    // Its whole integral is 1 / rate, in the blocks that hold the start.
    expect(Math.min(...out)).toBeGreaterThan(-1 / 5000 / 0.2 - 1e-9);
    expect(out.every((v) => Number.isFinite(v))).toBe(true);
    expect(out[25]).toBeCloseTo(0, 12);
  });

  it("leaves readings before and after alone", () => {
    const out = new Float64Array(2).fill(3);
    subtractStretch(out, Float64Array.of(0, 100), 0, stretch);
    expect(Array.from(out)).toEqual([3, 3]);
  });
});
