import { describe, expect, it } from "vitest";
import { boundariesOf, largestOf, placesWithoutStrays } from "../../../src/core/estimation/current-boundaries.js";
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

describe("boundariesOf() of a step that settles", () => {
  /** Levels that begin so many readings apart. */
  const levels = (...steps: readonly (readonly [atStep: number, jumpA: number])[]) => {
    const length = steps.at(-1)![0] + 30;
    const currentsA = Float64Array.from({ length }, (_, k) =>
      steps.reduce((sum, [at, jump]) => (k >= at ? sum + jump : sum), 0),
    );
    return boundariesOf(currentsA, 0.001).map(({ index }) => index);
  };

  it("leaves out what follows within twelve readings and is less than a fifth of it, in a chain", () => {
    expect(levels([30, 10], [42, -1.9])).toEqual([30]);
    expect(levels([30, 10], [43, -1.9])).toEqual([30, 43]);
    expect(levels([30, 10], [42, -2.1])).toEqual([30, 42]);
    expect(levels([30, 10], [42, -1.9], [54, -1], [66, -1])).toEqual([30]);
    expect(levels([30, 10], [42, -1.9], [55, -1])).toEqual([30, 55]);
    // Of the step, not of what was left out in between; and of the last step kept.
    expect(levels([30, 10], [40, -1], [50, -0.5])).toEqual([30]);
    expect(levels([30, 10], [40, 4], [50, 1])).toEqual([30, 40, 50]);
    expect(levels([30, -10], [40, 1.5])).toEqual([30]);
  });
});

describe("largestOf()", () => {
  it("is the first of the largest either way", () => {
    const of = (...jumps: readonly number[]) => largestOf(jumps.map((jumpA, index) => ({ index, jumpA }))).index;
    expect(of(1, -3, 2)).toBe(1);
    expect(of(2, -2, 1)).toBe(0);
    expect(of(1, 2, 5)).toBe(2);
  });
});

describe("boundariesOf() of more readings than are searched one by one", () => {
  it.each([0.001, 1])("are at the very reading, next to the ends too, in units of %d A", (unitA) => {
    const random = randomGenerator(2);
    const steps = [
      [17, 4],
      [30_011, 5],
      [60_007, -3],
      [119_989, 4],
    ] as const;
    const currentsA = Float64Array.from({ length: 120_001 }, (_, k) =>
      steps.reduce((sum, [at, jump]) => (k >= at ? sum + unitA * jump : sum), unitA * (2 + 0.05 * random.normal())),
    );
    const found = boundariesOf(currentsA, 0.05 * unitA);
    expect(found.map(({ index }) => index)).toEqual(steps.map(([at]) => at));
    for (const [k, [, jump]] of steps.entries()) expect(Math.abs(found[k]!.jumpA / unitA - jump)).toBeLessThan(0.3);
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
