import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { displayNoiseV } from "../../../src/core/noise/display-noise.js";
import { normalCdf } from "../../../src/core/statistics/distribution.js";

/** Share of the readings that one stretch of 2 s with these digits is taken to have beyond two neighbours. */
function shareBeyond(digits: readonly number[]): number {
  const timesS = Float64Array.from(digits, (_, i) => (1.9 * i) / digits.length);
  return 1 - normalCdf(0.5 / displayNoiseV({ timesS, voltagesV: Float64Array.from(digits) }, 1));
}

describe("displayNoiseV()", () => {
  it.each([
    ["neighbours of 4 and 5 among ten", [0, 0, 0, 0, 1, 1, 1, 1, 1, 2], 1 / 10],
    ["the two that hold the most, though others lie a digit apart", [0, 0, 0, 1, 2, 2, 2, 2], 3 / 8],
    ["a digit without a neighbour above counts alone", [0, 0, 0, 0, 0, 0, 2, 2], 2 / 8],
  ] as const)("%s", (_name, digits, share) => {
    expect(shareBeyond(digits)).toBeCloseTo(share, 6);
  });

  it("tells of a slow log only noise well above a step", () => {
    const random = randomSource(5);
    const slow = (sdSteps: number) => {
      const voltagesV = Float64Array.from({ length: 200 }, (_, i) => Math.round(sdSteps * random.normal() + 0.01 * i));
      return displayNoiseV({ timesS: voltagesV.map((_, i) => i), voltagesV }, 1);
    };
    // A robust scatter of 200 readings is known to about a tenth.
    expect(Math.abs(slow(8) / 8 - 1)).toBeLessThan(0.4);
    expect(slow(0.3)).toBe(0);
    // A level half-way between two digits flickers though nothing is noisy.
    const flicker = Float64Array.from({ length: 200 }, () => (random.uniform() < 0.5 ? 0 : 1));
    expect(displayNoiseV({ timesS: flicker.map((_, i) => i), voltagesV: flicker }, 1)).toBe(0);
  });
});
