import { describe, expect, it } from "vitest";
import { openCircuit } from "../../../src/core/battery/open-circuit.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const baseA = { value: 12, u: 0.4 };
const busV = { value: 24.2, u: 0.01 };
const ohm = { value: 0.03, u: 0.002 };
const drawOhm = (random: { normal(): number }) => ohm.value + ohm.u * random.normal();

describe("openCircuit()", () => {
  // By hand: 24.2 + 12 x 0.03 = 24.56; u^2 = 0.01^2 + (0.03 x 0.4)^2 + (12 x 0.002)^2.
  it("adds what the base current takes off the level, with a budget that adds up", () => {
    const { quantity, budget } = openCircuit({ baseA, busV }, ohm, drawOhm, randomGenerator(1))!;
    expect(quantity.value).toBeCloseTo(24.56, 12);
    expect(quantity.u).toBeCloseTo(Math.hypot(0.01, 0.012, 0.024), 12);
    expect(budget.u).toBeCloseTo(quantity.u, 12);
    expect(budget.rows.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 12);
    expect(budget.method).toBe("first-order");
  });

  it("takes the drawn interval where the resistance is skewed", () => {
    const skewed = (random: { normal(): number }) => 0.02 + 0.01 * random.normal() ** 2;
    const calm = { baseA: { value: 12, u: 0.001 }, busV: { value: 24.2, u: 0.001 } };
    const found = openCircuit(calm, { value: 0.03, u: 0.0141 }, skewed, randomGenerator(2))!;
    expect(found.budget.method).toBe("monte-carlo");
    // Chi-square with one degree of freedom: 2.5 % below 0.00098, 2.5 % above 5.02.
    expect(Math.abs(found.quantity.low - (24.2 + 12 * 0.02001))).toBeLessThan(0.01);
    expect(Math.abs(found.quantity.high - (24.2 + 12 * (0.02 + 0.0502)))).toBeLessThan(0.04);
  });

  it("is not told without base current, level or resistance", () => {
    const random = randomGenerator(3);
    expect(openCircuit({ baseA: null, busV }, ohm, drawOhm, random)).toBeNull();
    expect(openCircuit({ baseA, busV: null }, ohm, drawOhm, random)).toBeNull();
    expect(openCircuit({ baseA, busV }, null, null, random)).toBeNull();
  });
});
