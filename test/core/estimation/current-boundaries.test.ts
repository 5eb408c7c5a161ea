import { describe, expect, it } from "vitest";
import { boundariesOf, placesWithoutStrays } from "../../../src/core/estimation/current-boundaries.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** 20 readings of 0, one of 10 and 20 of `after`, all in `unitA`. */
const around = (after: number, unitA: number) =>
  Float64Array.from({ length: 41 }, (_, k) => unitA * (k < 20 ? 0 : k === 20 ? 10 : after));
const UNITS_A = [0.01, 1, 100, -0.01, -100];

describe("boundariesOf()", () => {
  it("are where the levels change, in any unit", () => {
    for (const unitA of UNITS_A) {
      for (const after of [-10, -2.9, 0, 2.9]) {
        const found = boundariesOf(around(after, unitA), 0.01 * Math.abs(unitA));
        expect(
          found.map(({ index, jumpA }) => [index, Number((jumpA / unitA).toFixed(6))]),
          `${after} x ${unitA} A`,
        ).toEqual([
          [20, 10],
          [21, Number((after - 10).toFixed(6))],
        ]);
      }
    }
  });
});

describe("boundariesOf() of more readings than are searched one by one", () => {
  it("are at the very reading, next to the ends too", () => {
    const random = randomGenerator(2);
    const steps = [
      [17, 4],
      [30_011, 5],
      [60_007, -3],
      [119_989, 4],
    ] as const;
    const currentsA = Float64Array.from({ length: 120_001 }, (_, k) =>
      steps.reduce((sum, [at, jumpA]) => (k >= at ? sum + jumpA : sum), 2 + 0.05 * random.normal()),
    );
    const found = boundariesOf(currentsA, 0.05);
    expect(found.map(({ index }) => index)).toEqual(steps.map(([at]) => at));
    for (const [k, [, jumpA]] of steps.entries()) expect(Math.abs(found[k]!.jumpA - jumpA)).toBeLessThan(0.3);
  });
});

describe("placesWithoutStrays()", () => {
  it("leaves out a reading where the level after it is less than 0.3 of its jump off, in any unit", () => {
    const all = Array.from({ length: 41 }, (_, k) => k);
    for (const unitA of UNITS_A) {
      const places = (after: number) => [...placesWithoutStrays(around(after, unitA), 0.01 * Math.abs(unitA))];
      for (const after of [-2.9, 0, 2.9]) expect(places(after), `${after}`).toEqual(all.filter((k) => k !== 20));
      for (const after of [-10, -3.1, 3.1]) expect(places(after), `${after}`).toEqual(all);
    }
  });

  it("leaves out what is a stray reading once another one is gone", () => {
    const level = new Array<number>(20).fill(0);
    const values = (...middle: number[]) => Float64Array.of(...level, ...middle, ...level);
    // Two readings of one level are no stray ones; 100 before 10 is one, and then 10 is.
    expect([...placesWithoutStrays(values(10, 10), 0.01)]).toHaveLength(42);
    expect([...placesWithoutStrays(values(100, 10), 0.01)]).toHaveLength(40);
  });

  it("keeps the level between a contact that bounces and the step", () => {
    const bounce = Float64Array.from({ length: 42 }, (_, k) => (k === 20 || k >= 22 ? 5 : 0));
    const places = [...placesWithoutStrays(bounce, 0.01)];
    expect(places).toEqual(Array.from({ length: 42 }, (_, k) => k).filter((k) => k !== 20));
  });
});
