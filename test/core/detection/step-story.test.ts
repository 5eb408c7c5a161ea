import { describe, expect, it } from "vitest";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { searchSeries } from "../../../src/core/detection/search-series.js";
import { stepPValue } from "../../../src/core/detection/step-story.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** A minute at 5 Hz with 10 mV of white noise; steps are on-times that no reading ends or begins. */
function chanceOf(onTimes: readonly OnTime[], judged: readonly OnTime[], depthV: number, seed: number): number {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 300 }, (_, i) => i / 5);
  const template = dipTemplate(timesS, 0, onTimes, plainShape(0.3));
  const voltagesV = timesS.map((t, i) => 24 - 0.001 * t - depthV * template[i]! + 0.01 * random.normal());
  const series = searchSeries({ timesS, voltagesV }, null)!;
  const load = { id: "a", onTimes: judged, kind: null, timeUncertaintyS: 0 };
  const detection = detectMarked(series, [load], {
    meter: { lagS: 0.3 },
    display: null,
    wholeNoise: null,
    random: randomGenerator(1),
  } as unknown as Parameters<typeof detectMarked>[2]);
  return stepPValue(detection, detection.responses[0]!);
}
const at = (onsetS: number, releaseS: number): OnTime => ({ onsetS, releaseS });
const SEEDS = [1, 2, 3, 4];

describe("stepPValue()", () => {
  const dip = at(25, 31);

  // Depth of 0.1 V in 10 mV of noise: each end shows by itself by more than 8 standard uncertainties.
  it("is next to nothing for a dip that ends as clearly as it begins", () => {
    for (const seed of SEEDS) expect(chanceOf([dip], [dip], 0.1, seed)).toBeLessThan(1e-4);
  });

  it.each([
    ["falls and stays down", at(25, 999)],
    ["stood low and rises", at(-999, 31)],
  ])("is large where the level %s", (_, step) => {
    for (const seed of SEEDS) expect(chanceOf([step], [dip], 0.1, seed)).toBeGreaterThan(0.01);
  });

  it("weighs two dips against a step at each of their ends, and asks nothing of more", () => {
    const dips = [at(10, 15), at(22, 27), at(34, 39)];
    for (const seed of SEEDS) {
      const two = dips.slice(0, 2);
      expect(chanceOf(two, two, 0.1, seed)).toBeLessThan(1e-4);
      for (const { onsetS, releaseS } of two) {
        expect(chanceOf([at(onsetS, 999)], two, 0.1, seed)).toBeGreaterThan(0.01);
        expect(chanceOf([at(-999, releaseS)], two, 0.1, seed)).toBeGreaterThan(0.01);
      }
    }
    expect(chanceOf([at(10, 999)], dips, 0.1, 1)).toBe(0);
  });

  it("is 1 for a single dip of which less than two seconds of the level after it are seen", () => {
    for (const [releaseS, seen] of [
      [57.7, true],
      [57.9, false],
    ] as const) {
      const late = at(50, releaseS);
      const chance = chanceOf([late], [late], 0.1, 1);
      if (seen) expect(chance).toBeLessThan(0.5);
      else expect(chance).toBe(1);
    }
  });

  it("is not small for a dip whose ends are faint, and never above 1", () => {
    // 12 mV over 6 s, of which noise and a step make as much.
    for (const seed of SEEDS) {
      const chance = chanceOf([dip], [dip], 0.012, seed);
      expect(chance).toBeGreaterThan(1e-3);
      expect(chance).toBeLessThanOrEqual(1);
    }
  });
});
