import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { holmAdjusted } from "../../../src/core/verdict/holm.js";

describe("holmAdjusted()", () => {
  it("of one p-value, and of none, changes nothing", () => {
    expect(holmAdjusted([0.03])).toEqual([0.03]);
    expect(holmAdjusted([])).toEqual([]);
  });

  it("rejects what the step-down rule rejects: p(k) <= alpha / (m - k + 1) for all up to k", () => {
    const random = randomSource(4);
    for (let trial = 0; trial < 200; trial++) {
      const p = Array.from({ length: 1 + Math.floor(6 * random.uniform()) }, () => random.uniform() ** 3);
      const alpha = 0.05;
      const order = p.map((_, k) => k).sort((a, b) => p[a]! - p[b]!);
      const rejected = new Set<number>();
      for (const [rank, k] of order.entries()) {
        if (p[k]! > alpha / (p.length - rank)) break;
        rejected.add(k);
      }
      holmAdjusted(p).forEach((adjusted, k) => {
        expect(adjusted <= alpha, `trial ${trial}`).toBe(rejected.has(k));
      });
    }
  });

  it("never lowers a p-value, never exceeds 1, and keeps the order", () => {
    const adjusted = holmAdjusted([0.6, 0.2, 0.9, 0.4]);
    expect(adjusted[1]).toBeCloseTo(0.8, 12);
    expect(adjusted[2]).toBe(1);
    expect(Math.max(...adjusted)).toBe(1);
  });

  it("goes with its load when the loads are listed in another order", () => {
    expect(holmAdjusted([0.04, 0.001, 0.2])).toEqual(holmAdjusted([0.2, 0.04, 0.001]).slice(1).concat(0.2));
  });

  it("keeps the chance of any false alarm among five silent loads at the nominal rate", () => {
    const random = randomSource(9);
    const trials = 20_000;
    let alarms = 0;
    for (let k = 0; k < trials; k++) {
      if (holmAdjusted(Array.from({ length: 5 }, () => random.uniform())).some((p) => p <= 0.05)) alarms += 1;
    }
    // 1 - (1 - 0.05 / 5)^5 = 4.9 %; four standard deviations of 20,000 are 0.6 %.
    expect(alarms / trials).toBeGreaterThan(0.043);
    expect(alarms / trials).toBeLessThan(0.055);
  });
});
