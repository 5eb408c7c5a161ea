import { describe, expect, it } from "vitest";
import { powersTogether } from "../../../src/core/plan/powers-together.js";
import { normalCdf, normalQuantile } from "../../../src/core/statistics/distribution.js";

/** A load whose score is normal with this mean and spread. */
const scoring =
  (mean: number, spread = 1) =>
  (falseAlarmRate: number) =>
    normalCdf((mean + normalQuantile(falseAlarmRate)) / spread);

describe("powersTogether()", () => {
  it("of one load is its own at the whole rate, of none nothing", () => {
    expect(powersTogether([scoring(3)], 0.01)).toEqual([scoring(3)(0.01)]);
    expect(powersTogether([], 0.01)).toEqual([]);
  });

  // 4,000 draws: four standard deviations of a share of one half are 3.2 %.
  it.each([
    [3, 1],
    [3, 1.5],
    [2.5, 0.7],
  ])("beside a load that is surely found is that at the whole rate: mean %d, spread %d", (mean, spread) => {
    const [sure, other] = powersTogether([scoring(20), scoring(mean, spread)], 0.01);
    expect(sure).toBe(1);
    expect(Math.abs(other! - scoring(mean, spread)(0.01))).toBeLessThan(0.032);
  });

  it("beside a load that is never found is that at half the rate", () => {
    const [never, other] = powersTogether([scoring(-20), scoring(3)], 0.02);
    expect(never).toBe(0);
    expect(Math.abs(other! - scoring(3)(0.01))).toBeLessThan(0.032);
  });

  it("of two alike: Holm's second step gives back what the first takes", () => {
    // Found at alpha / 2 by itself, or at alpha while the other is found at alpha / 2: p1 + (p - p1) p1.
    const [at, atHalf] = [scoring(2.5)(0.02), scoring(2.5)(0.01)];
    for (const found of powersTogether([scoring(2.5), scoring(2.5)], 0.02))
      expect(Math.abs(found - (atHalf + (at - atHalf) * atHalf))).toBeLessThan(0.032);
  });
});
