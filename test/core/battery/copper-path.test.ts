import { describe, expect, it } from "vitest";
import { copperResistanceAt, copperWireResistance } from "../../../src/core/battery/copper-path.js";
import { leadAcidCellV } from "../../../src/core/battery/rest-voltage.js";

describe("copperWireResistance()", () => {
  it("is the table's figure per 1000 ft of 0.3048 m: FAA AC 43.13-1B, table 11-9", () => {
    expect(copperWireResistance(10, 304.8)).toBeCloseTo(1.26, 12);
    expect(copperWireResistance(20, 3.048)).toBeCloseTo(0.0988, 12);
    expect(copperWireResistance(-3, 304.8)).toBeCloseTo(0.06, 12);
    expect(copperWireResistance(0, 152.4)).toBeCloseTo(0.06, 12);
  });

  it("holds in every row to what the gauge's area of annealed copper has, but for stranding and tin", () => {
    // Diameter 0.127 mm x 92^((36 - n) / 39), ASTM B258; 1.7241e-8 Ohm m at 20 C, IEC 60028 (both from memory).
    for (const gauge of [24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3]) {
      const radiusM = (0.127e-3 / 2) * 92 ** ((36 - gauge) / 39);
      const solidOhm = (1.7241e-8 * 304.8) / (Math.PI * radiusM ** 2);
      const ratio = copperWireResistance(gauge, 304.8) / solidOhm;
      expect(ratio, `gauge ${gauge}`).toBeGreaterThan(0.95);
      expect(ratio, `gauge ${gauge}`).toBeLessThan(1.3);
    }
  });

  it("changes with temperature by (234.5 + t) / 254.5, the same source, p. 11-22", () => {
    expect(copperWireResistance(10, 304.8, 71)).toBeCloseTo((1.26 * 305.5) / 254.5, 12);
    expect(copperResistanceAt(2, 20)).toBe(2);
    expect(copperResistanceAt(2, 274.5)).toBe(4);
  });

  it("every thicker wire has less resistance, and gauges outside the table are refused", () => {
    const gauges = [24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3];
    const ohms = gauges.map((gauge) => copperWireResistance(gauge, 1));
    expect(ohms).toEqual([...ohms].sort((a, b) => b - a));
    // Three gauges halve it, six a quarter (American wire gauge, the ratio of areas is 2.005), within the table's rounding.
    for (const [thin, thick] of [
      [24, 18],
      [20, 14],
      [16, 10],
      [10, 4],
    ] as const) {
      const ratio = copperWireResistance(thin, 1) / copperWireResistance(thick, 1);
      expect(ratio).toBeGreaterThan(3);
      expect(ratio).toBeLessThan(5);
    }
    expect(() => copperWireResistance(3, 1)).toThrow("the gauge must be one of table 11-9, got 3");
  });
});

describe("leadAcidCellV()", () => {
  it("is the specific gravity plus 0.84: 1.28 gives 2.12 V", () => {
    expect(leadAcidCellV(1.28)).toBeCloseTo(2.12, 12);
  });
});
