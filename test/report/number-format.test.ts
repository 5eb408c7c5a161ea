import { describe, expect, it } from "vitest";
import type { Quantity, Unit } from "../../src/core/index.js";
import {
  formatChance,
  formatDuration,
  formatPercent,
  formatPlain,
  formatQuantity,
  roundToUncertainty,
} from "../../src/report/number-format.js";

function quantity(value: number, unit: Unit, u: number, low = value - 2 * u, high = value + 2 * u): Quantity<Unit> {
  return { value, u, unit, low, high, coverage: 0.95, route: "readings" };
}

describe("roundToUncertainty()", () => {
  // JCGM 100:2008, 7.2.6 prints y = 10,057 62 Ohm with u = 27 mOhm as 10,058 Ohm; 10,47 mOhm may become 11 mOhm;
  // 28,05 kHz becomes 28 kHz. 7.2.2 prints m = 100,021 47 g with u = 0,35 mg.
  it.each([
    [10.05762, 0.027, "10.058", "0.027"],
    [100.02147, 0.00035, "100.02147", "0.00035"],
    [0, 10.47, "0", "11"],
    [0, 28.05, "0", "28"],
  ])("of %d and u = %d gives what JCGM 100:2008 7.2 prints", (value, u, valueText, uText) => {
    expect(roundToUncertainty(value, u)).toMatchObject({ value: valueText, u: uText });
  });

  it("carries when the uncertainty rounds up to the next power of ten", () => {
    expect(roundToUncertainty(5, 0.0996)).toMatchObject({ value: "5.00", u: "0.10" });
    expect(roundToUncertainty(1234.5, 996)).toMatchObject({ value: "1200", u: "1000" });
  });

  it("keeps trailing zeros of the uncertainty and prints no negative zero", () => {
    expect(roundToUncertainty(-0.0001, 0.1)).toMatchObject({ value: "0.00", u: "0.10" });
  });

  it("never prints an uncertainty more than 4 % too small or 10 % too large", () => {
    for (let u = 0.001; u < 1000; u *= 1.0007) {
      const printed = Number(roundToUncertainty(1, u).u);
      expect(printed / u).toBeGreaterThan(0.96 - 1e-9);
      expect(printed / u).toBeLessThan(1.1);
    }
  });

  it("prints value and uncertainty to the same decimal place", () => {
    for (const [value, u] of [
      [24.98765, 0.0123],
      [0.118, 0.0061],
      [-3.2, 0.5],
    ] as const) {
      const pair = roundToUncertainty(value, u);
      expect(pair.value.split(".")[1]).toHaveLength(pair.u.split(".")[1]!.length);
    }
  });

  it("refuses an uncertainty that is no positive number", () => {
    expect(() => roundToUncertainty(1, 0)).toThrow(
      "Cannot round to the uncertainty: a finite value and u > 0 are needed, got 1 and 0",
    );
  });
});

describe("formatQuantity()", () => {
  it("writes small volts in mV with half the coverage interval", () => {
    expect(formatQuantity(quantity(0.11834, "V", 0.0061))).toBe("118 mV ± 12 mV");
  });

  it("writes a bus voltage in V and a resistance in mΩ", () => {
    expect(formatQuantity(quantity(24.81, "V", 0.0105))).toBe("24.810 V ± 0.021 V");
    expect(formatQuantity(quantity(0.0211, "Ohm", 0.0011))).toBe("21.1 mΩ ± 2.2 mΩ");
  });

  it("writes a lopsided interval by its bounds", () => {
    expect(formatQuantity(quantity(5.6, "A", 0.5, 4.9, 7.1))).toBe("5.6 A (4.9 A to 7.1 A)");
  });

  it("writes u, the interval, the coverage and the short form on request", () => {
    const depth = quantity(-0.004, "V", 0.011);
    expect(formatQuantity(depth, { form: "standard" })).toBe("−4 mV, u = 11 mV");
    expect(formatQuantity(depth, { form: "interval" })).toBe("−26 mV to 18 mV");
    expect(formatQuantity(depth, { coverage: true })).toBe("−4 mV ± 22 mV (95 %)");
    expect(formatQuantity(depth, { form: "compact" })).toBe("−4 ± 22 mV");
    expect(formatQuantity(quantity(5.6, "A", 0.5, 4.9, 7.1), { form: "compact" })).toBe("5.6 (4.9 to 7.1) A");
  });

  it("says why a missing quantity is missing", () => {
    expect(formatQuantity(null, { reason: "no load of known current answered" })).toBe(
      "not identifiable: no load of known current answered",
    );
    expect(formatQuantity(quantity(Number.NaN, "A", 1))).toBe("not identifiable");
  });

  it("says so when a value carries no uncertainty", () => {
    expect(formatQuantity(quantity(30, "min", 0))).toBe("30.0 min (taken as exact)");
  });
});

describe("plain figures", () => {
  it("formatPlain() always carries a unit", () => {
    expect(formatPlain(0.0384, "V", { digits: 2 })).toBe("38 mV");
    expect(formatPlain(129.95, "s")).toBe("130 s");
    expect(formatPlain(20, "Hz")).toBe("20 Hz");
    expect(formatPlain(0.2, "s", { digits: 2 })).toBe("0.2 s");
    expect(formatPlain(1, "s", { digits: 2 })).toBe("1 s");
    expect(formatPlain(100, "1")).toBe("100");
    expect(formatPlain(null, "V")).toBe("not known");
  });

  it("formatChance() says small chances as 1 in N", () => {
    expect(formatChance(2.1e-5)).toBe("1 in 48,000");
    expect(formatChance(1e-12)).toBe("< 0.0001 %");
    expect(formatChance(0.34)).toBe("34 %");
  });

  it("formatPercent() keeps the nines", () => {
    expect(formatPercent(0.95)).toBe("95 %");
    expect(formatPercent(0.9973)).toBe("99.7 %");
    expect(formatPercent(0.004)).toBe("0.4 %");
  });

  it("formatDuration() speaks in minutes and hours", () => {
    expect(formatDuration(4.23)).toBe("4.2 s");
    expect(formatDuration(130)).toBe("2 min 10 s");
    expect(formatDuration(3599.9)).toBe("1 h 0 min");
  });
});
