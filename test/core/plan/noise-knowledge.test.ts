import { describe, expect, it } from "vitest";
import { noiseKnowledge } from "../../../src/core/plan/noise-knowledge.js";

describe("noiseKnowledge()", () => {
  it("grows with the root of the time: four times as long leaves half as much open, and costs an eighth", () => {
    const [short, long] = [noiseKnowledge(80), noiseKnowledge(320)];
    expect(long.scaleSd / short.scaleSd).toBeCloseTo(0.5, 12);
    expect((1 - long.shrink) / (1 - short.shrink)).toBeCloseTo(1 / 8, 9);
  });

  it("agrees with what fitted drawn recordings left open: 0.080 to 0.087 at 77 s, 0.041 to 0.057 at 170 s", () => {
    expect(noiseKnowledge(77).scaleSd).toBeGreaterThan(0.08);
    expect(noiseKnowledge(77).scaleSd).toBeLessThan(0.087);
    expect(noiseKnowledge(170).scaleSd).toBeLessThan(0.0575);
    expect(noiseKnowledge(77).shrink).toBeGreaterThan(0.97);
    expect(noiseKnowledge(77).shrink).toBeLessThan(1);
    expect(noiseKnowledge(170).shrink).toBeGreaterThan(0.99);
  });

  it("of a few seconds is bounded", () => {
    expect(noiseKnowledge(1)).toEqual({ scaleSd: 0.3, shrink: 0.9 });
  });
});
