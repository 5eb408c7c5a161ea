import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { evenPattern, onTimesOf, switchingPattern } from "../../../src/core/index.js";

const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);

describe("switchingPattern()", () => {
  it("switchingPattern() keeps the time limit, all on-times added up, whatever is wished", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 2, max: 12 }),
        fc.integer({ min: 2, max: 8 }),
        fc.integer({ min: 1, max: 90 }),
        (n, c, limit) => {
          const pattern = switchingPattern({ switchingCount: n, cadenceS: c, timeLimitS: limit });
          if (pattern === null) return;
          expect(sum(pattern.onS)).toBeLessThanOrEqual(limit);
          expect(pattern.totalOnS).toBe(sum(pattern.onS));
          for (const timeS of [...pattern.onS, ...pattern.offS]) {
            expect(Number.isInteger(timeS)).toBe(true);
            expect(timeS).toBeGreaterThanOrEqual(2);
          }
          expect(pattern.onS).toHaveLength(n);
          expect(pattern.offS).toHaveLength(n - 1);
        },
      ),
      { seed: 1, numRuns: 60 },
    );
  });

  it("switchingPattern(limit below the shortest times) is null", () => {
    expect(switchingPattern({ switchingCount: 3, cadenceS: 5, timeLimitS: 5 })).toBeNull();
  });

  it.each([4, 5, 6, 8, 10])(
    "switchingPattern(%i switchings) looks less like a cycle or itself than the plain beat",
    (count) => {
      const pattern = switchingPattern({ switchingCount: count, cadenceS: 5, timeLimitS: null })!;
      const even = evenPattern(count, 5);
      // A square wave has 8 / pi^2 of its power in its fundamental: 0.90 as a correlation.
      expect(even.cycleLikeness).toBeGreaterThan(0.85);
      expect(pattern.cycleLikeness).toBeLessThan(0.65);
      expect(pattern.sideLobe).toBeLessThan(0.5);
      expect(even.sideLobe).toBeGreaterThan(0.8);
    },
  );

  it("onTimesOf() lays the pattern on the time axis", () => {
    const pattern = evenPattern(2, 4);
    expect(onTimesOf(pattern, 10)).toEqual([
      { onsetS: 10, releaseS: 14 },
      { onsetS: 18, releaseS: 22 },
    ]);
  });
});
