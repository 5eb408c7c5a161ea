import { describe, expect, it } from "vitest";
import {
  iec60896Schedule,
  iec61960Schedule,
  twoCurrentResistance,
} from "../../../src/core/estimation/two-current-resistance.js";

const levels = (ua: number, ub: number, ia: number, ib: number) =>
  twoCurrentResistance(
    { terminalV: { value: ua, u: 0.01 }, currentA: { value: ia, u: 0.2 } },
    { terminalV: { value: ub, u: 0.02 }, currentA: { value: ib, u: 0.5 } },
  );

describe("twoCurrentResistance()", () => {
  it("is the drop over the rise of current; the short-circuit current is where the line meets 0 V", () => {
    // 25 V behind 20 mOhm: 24.6 V at 20 A, 23 V at 100 A; 1250 A into a short.
    const { resistanceOhm, shortCircuitA } = levels(24.6, 23, 20, 100);
    expect(resistanceOhm.value).toBeCloseTo(0.02, 12);
    expect(shortCircuitA.value).toBeCloseTo(1250, 9);
  });

  it("carries the four uncertainties by their derivatives, by numeric differences", () => {
    const base = [24.6, 23, 20, 100] as const;
    const u = [0.01, 0.02, 0.2, 0.5];
    const found = levels(...base);
    for (const pick of ["resistanceOhm", "shortCircuitA"] as const) {
      const parts = base.map((_, k) => {
        const step = 1e-5;
        const at = (sign: number) => {
          const moved = base.map((v, i) => (i === k ? v + sign * step : v)) as [number, number, number, number];
          return levels(...moved)[pick].value;
        };
        return ((at(1) - at(-1)) / (2 * step)) * u[k]!;
      });
      expect(found[pick].u / Math.hypot(...parts)).toBeCloseTo(1, 6);
    }
  });

  it("refuses a second current that is not the larger", () => {
    expect(() => levels(24, 23, 20, 20)).toThrow("the second current must be the larger, got 20 A and 20 A");
  });
});

describe("schedules", () => {
  it("IEC 60896-21: 4 to 6 and 20 to 40 times the ten-hour current, 20 s and 5 s; IEC 61960-3: 0.2 C for 10 s, 1 C for 1 s", () => {
    expect(iec60896Schedule(50)).toEqual({ firstS: 20, secondS: 5, firstA: [20, 30], secondA: [100, 200] });
    expect(iec61960Schedule(50)).toEqual({ firstS: 10, secondS: 1, firstA: [10, 10], secondA: [50, 50] });
  });
});
