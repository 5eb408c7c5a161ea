import { describe, expect, it } from "vitest";
import { holmAdjusted } from "../../src/core/verdict/holm.js";

describe("holmAdjusted() against a worked example", () => {
  // The example usually shown for the step-down rule: p = 0.01, 0.04, 0.03, 0.005 at alpha = 0.05; the first and the
  // last are rejected (0.005 <= 0.05 / 4, 0.01 <= 0.05 / 3), 0.03 > 0.05 / 2 stops. From memory, no edition at hand.
  it("p = 0.01, 0.04, 0.03, 0.005: adjusted 0.03, 0.06, 0.06, 0.02, the first and the last rejected at 5 %", () => {
    const adjusted = holmAdjusted([0.01, 0.04, 0.03, 0.005]);
    [0.03, 0.06, 0.06, 0.02].forEach((expected, k) => {
      expect(adjusted[k]).toBeCloseTo(expected, 12);
    });
    expect(adjusted.map((p) => p <= 0.05)).toEqual([true, false, false, true]);
  });
});
