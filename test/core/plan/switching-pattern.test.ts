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

  it("onTimesOf() keeps each pattern's own times on and off", () => {
    const pattern = { ...evenPattern(3, 4), onS: [3, 5, 2], offS: [4, 6] };
    expect(onTimesOf(pattern, 1)).toEqual([
      { onsetS: 1, releaseS: 4 },
      { onsetS: 8, releaseS: 13 },
      { onsetS: 19, releaseS: 21 },
    ]);
  });

  it("evenPattern() adds up its times, and is found again one beat later", () => {
    const pattern = evenPattern(3, 4);
    expect(pattern).toMatchObject({ onS: [4, 4, 4], offS: [4, 4], lengthS: 20, totalOnS: 12 });
    // On 12 of 20 s: 8 / 20 while on and -12 / 20 while off, sum of squares 4.8. Shifted by 8 s the pattern fits itself over
    // 12 s, of which 8 on and 4 off: 8 x 0.16 + 4 x 0.36 = 2.72. Shifted by 4 s it is against itself over 16 s: -16 x 0.24.
    expect(pattern.sideLobe).toBeCloseTo(3.84 / 4.8, 9);
  });

  it("likeness to a cycle is the correlation with the best sine, as the definition gives it", () => {
    const pattern = switchingPattern({ switchingCount: 5, cadenceS: 5, timeLimitS: null })!;
    const wave: number[] = [];
    pattern.onS.forEach((on, k) => {
      wave.push(...new Array(on).fill(1), ...new Array(pattern.offS[k] ?? 0).fill(0));
    });
    const mean = wave.reduce((a, b) => a + b, 0) / wave.length;
    const centred = wave.map((v) => v - mean);
    const size = Math.sqrt(centred.reduce((total, v) => total + v * v, 0));
    const likeness = Array.from({ length: 48 }, (_, k) => {
      const turn = (2 * Math.PI) / (3 * 1.05 ** k);
      const re = centred.reduce((total, v, i) => total + v * Math.cos(turn * i), 0);
      const im = centred.reduce((total, v, i) => total + v * Math.sin(turn * i), 0);
      return (Math.hypot(re, im) * Math.sqrt(2 / centred.length)) / size;
    });
    expect(pattern.cycleLikeness).toBeCloseTo(Math.max(...likeness), 9);
    const shortest = Math.min(...pattern.onS, ...pattern.offS);
    const lobes = centred.map((_, lag) =>
      lag < shortest ? 0 : Math.abs(centred.reduce((total, v, i) => total + v * (centred[i + lag] ?? 0), 0)),
    );
    expect(pattern.sideLobe).toBeCloseTo(Math.max(...lobes) / size ** 2, 9);
    expect(pattern.lengthS).toBe(wave.length);
  });

  it("takes the best of its candidates: no other count of seconds, and the same again for the same wishes", () => {
    const wishes = { switchingCount: 6, cadenceS: 4, timeLimitS: null };
    expect(switchingPattern(wishes)).toEqual(switchingPattern(wishes));
    for (const switchingCount of [3, 4, 6, 10]) {
      for (const cadenceS of [3, 5, 8]) {
        const pattern = switchingPattern({ switchingCount, cadenceS, timeLimitS: null })!;
        const meanS = pattern.totalOnS / switchingCount;
        // Between eight tenths of the cadence and half a second above it; each time between about half and one and a half of it.
        expect(meanS).toBeGreaterThanOrEqual(0.8 * cadenceS);
        expect(meanS).toBeLessThanOrEqual(cadenceS + 0.5 + 1 / switchingCount);
        for (const timeS of [...pattern.onS, ...pattern.offS]) {
          expect(timeS).toBeGreaterThanOrEqual(Math.max(2, Math.round(0.55 * cadenceS)));
          expect(timeS).toBeLessThanOrEqual(Math.round(1.5 * cadenceS));
        }
      }
    }
  });

  it("keeps the mean time on within half a second above the cadence, to the second where their sum is a whole one", () => {
    for (const switchingCount of [2, 4, 6, 8, 10, 12]) {
      for (let cadenceS = 2; cadenceS <= 12; cadenceS++) {
        const pattern = switchingPattern({ switchingCount, cadenceS, timeLimitS: null })!;
        expect(pattern.totalOnS, `${switchingCount} x ${cadenceS} s`).toBeLessThanOrEqual(
          (cadenceS + 0.5) * switchingCount,
        );
      }
    }
  });

  it("uses a limit that just allows the shortest times, and most of a limit that is longer", () => {
    // Three times at least 3 s (0.55 x 5 rounded) each.
    expect(switchingPattern({ switchingCount: 3, cadenceS: 5, timeLimitS: 8 })).toBeNull();
    expect(switchingPattern({ switchingCount: 3, cadenceS: 5, timeLimitS: 9 })!.onS).toEqual([3, 3, 3]);
    expect(switchingPattern({ switchingCount: 3, cadenceS: 5, timeLimitS: 12 })!.totalOnS).toBeGreaterThanOrEqual(9.6);
  });
});
