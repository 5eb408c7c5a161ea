import { describe, expect, it } from "vitest";
import { noiseFactors } from "../../../src/core/noise/noise-factors.js";
import { chiSquareSurvival, normalSurvival } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** The rule over plain arrays: windows, their scatter, the test for steadiness and the shrinking one after the other. */
function byHand(times: readonly number[], volts: readonly number[], counts: readonly number[]) {
  const n = times.length;
  const bend = (i: number) =>
    Math.abs(volts[i - 1]! - 2 * volts[i]! + volts[i + 1]!) /
    Math.sqrt(1 / counts[i - 1]! + 4 / counts[i]! + 1 / counts[i + 1]!);
  const windows: { from: number; to: number; log: number; variance: number }[] = [];
  for (let from = 1; ; ) {
    // Forty second differences and four seconds, as far as the readings reach.
    const inside = Array.from({ length: Math.max(0, n - 1 - from) }, (_, k) => from + k);
    const first = inside.findIndex((i, k) => k >= 40 && times[i]! - times[from]! >= 4);
    const to = first < 0 ? n - 1 : from + first;
    if (to - from < 40) break;
    const bends = inside.filter((i) => i < to).map(bend);
    const small = bends.sort((a, b) => a - b).slice(0, Math.floor(0.9 * bends.length));
    const isLast = to + 10 >= n - 1;
    windows.push({
      from: windows.length === 0 ? 0 : from,
      to: isLast ? n : to,
      log: Math.log(small.reduce((a, b) => a + b, 0) / small.length),
      variance: 1.3 / (to - from),
    });
    if (isLast) break;
    from += Math.floor((to - from) / 4);
  }
  const told = windows.filter(({ log }) => Number.isFinite(log));
  const apart = told.filter((_, k) => k % 4 === 0);
  if (apart.length < 4) return null;
  const common = middle(told.map(({ log }) => log));
  const off = apart.map(({ log, variance }) => (log - common) / Math.sqrt(variance));
  const together = chiSquareSurvival(
    off.reduce((sum, z) => sum + z * z, 0),
    off.length - 1,
  );
  // The furthest of so many, either way: Bonferroni. One chance in a thousand, half for each of the two.
  const alone = 2 * off.length * normalSurvival(Math.max(...off.map(Math.abs)));
  if (together >= 0.0005 && alone >= 0.0005) return null;
  const drawn = told.map(({ from, to, log, variance }) => {
    const own = log - common;
    // Two standard deviations are chance: positive-part shrinkage.
    return { from, to, log: own * own > 4 * variance ? own - (4 * variance) / own : 0 };
  });
  const logs = drawn.map(({ log }) => log);
  const spread = Math.max(...logs) - Math.min(...logs);
  if (spread < Math.log(1.5)) return null;
  const factors = times.map((_, i) => {
    const own = drawn.filter(({ from, to }) => i >= from && i < to).map(({ log }) => log);
    return own.length === 0 ? 1 : Math.exp(Math.max(...own));
  });
  return { factors, ratio: Math.exp(spread) };
}

describe("noiseFactors() beside its rule over plain arrays", () => {
  it("gives the same factors, or none, for 300 recordings whose noise swells or not", () => {
    let unsteady = 0;
    for (let seed = 1; seed <= 300; seed++) {
      const random = randomGenerator(seed);
      const pick = <T>(options: readonly T[]) => options[Math.floor(random.uniform() * options.length)]!;
      const intervalS = pick([0.05, 0.1, 0.3, 1]);
      const count = pick([60, 130, 170, 250, 400]);
      const swell = pick([1, 1, 1.4, 1.8, 3, 8]);
      const [fromShare, toShare] = pick([
        [0.5, 1],
        [0.3, 0.4],
        [0, 0.2],
      ] as const);
      const still = pick([0, 0, 0.2]);
      let at = 0;
      const times = Array.from({ length: count }, () => {
        at += intervalS * (0.9 + 0.2 * random.uniform()) * (random.uniform() < 0.01 ? 40 : 1);
        return at;
      });
      const counts = times.map(() => pick([1, 1, 4]));
      const volts = times.map((t, i) => {
        const share = i / count;
        const size = share >= fromShare && share < toShare ? swell : 1;
        if (share > 1 - still) return 24;
        return 24 - 0.001 * t - (i % 90 > 60 ? 0.3 : 0) + (0.02 * size * random.normal()) / Math.sqrt(counts[i]!);
      });
      const of = (values: readonly number[]) => Float64Array.from(values);
      const [found, hand] = [noiseFactors(of(times), of(volts), of(counts)), byHand(times, volts, counts)];
      expect(found === null, `recording ${seed}`).toBe(hand === null);
      if (found === null || hand === null) continue;
      unsteady += 1;
      expect(found.ratio / hand.ratio).toBeCloseTo(1, 9);
      hand.factors.forEach((factor, i) => {
        expect(found.factors[i]! / factor, `recording ${seed}, reading ${i}`).toBeCloseTo(1, 9);
      });
    }
    expect(unsteady).toBeGreaterThan(50);
    expect(unsteady).toBeLessThan(250);
  });
});
