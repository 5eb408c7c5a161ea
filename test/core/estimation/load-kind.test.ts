import { describe, expect, it } from "vitest";
import { currentAtVoltage, currentFromSource, loadLaw } from "../../../src/core/estimation/load-kind.js";
import { resistanceFromReference } from "../../../src/core/estimation/source-resistance.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const rated = { powerW: 120, atV: 24 };

describe("loadLaw()", () => {
  it("is a resistance for heaters and resistors, a power or a current for the others", () => {
    expect(loadLaw("heater", rated)).toEqual({ kind: "resistance", resistanceOhm: 4.8 });
    expect(loadLaw("resistive", rated)).toEqual({ kind: "resistance", resistanceOhm: 4.8 });
    expect(loadLaw("constant-power", rated)).toEqual({ kind: "power", powerW: 120 });
    expect(loadLaw("constant-current", rated)).toEqual({ kind: "current", currentA: 5 });
    for (const kind of ["heater", "constant-power"] as const)
      expect(loadLaw(kind, { currentA: 3 })).toEqual({ kind: "current", currentA: 3 });
  });
});

describe("currentAtVoltage() and currentFromSource()", () => {
  it("follow Ohm, power over voltage, or nothing", () => {
    expect(currentAtVoltage({ kind: "resistance", resistanceOhm: 4 }, 20)).toBe(5);
    expect(currentAtVoltage({ kind: "power", powerW: 120 }, 20)).toBe(6);
    expect(currentAtVoltage({ kind: "current", currentA: 7 }, 20)).toBe(7);
  });

  it("solve the circuit behind a source resistance: Kirchhoff holds", () => {
    expect(currentFromSource({ kind: "resistance", resistanceOhm: 4 }, 20, 1)).toBe(4);
    expect(currentFromSource({ kind: "current", currentA: 7 }, 20, 1)).toBe(7);
    const amperes = currentFromSource({ kind: "power", powerW: 60 }, 20, 0.5)!;
    expect(amperes * (20 - 0.5 * amperes)).toBeCloseTo(60, 9);
    // The smaller root: near P / V.
    expect(amperes).toBeLessThan(4);
    expect(currentFromSource({ kind: "power", powerW: 60 }, 20, 0)).toBe(3);
    // At most V^2 / 4 R = 200 W.
    expect(currentFromSource({ kind: "power", powerW: 200 }, 20, 0.5)).toBeCloseTo(20, 9);
    expect(currentFromSource({ kind: "power", powerW: 201 }, 20, 0.5)).toBeNull();
  });
});

describe("resistanceFromReference()", () => {
  const dip = { depth: { value: 0.2, u: 0.004 }, busV: { value: 24, u: 0.3 } };

  it.each([
    ["resistive", 4.8, 23.8 / 4.8],
    ["constant-power", null, 120 / 23.8],
    ["constant-current", null, 5],
  ] as const)(
    "of a %s load is its dip over its current in the dip, with the derivatives by numbers",
    (kind, _, currentA) => {
      const of = (depthV: number, busV: number) => {
        const found = resistanceFromReference(
          { kind, rated },
          { depth: { value: depthV, u: 0.004 }, busV: { value: busV, u: 0.3 } },
        );
        if (!found.known) throw new Error(found.reason);
        return found;
      };
      const found = of(0.2, 24);
      expect(found.currentA).toBeCloseTo(currentA, 12);
      expect(found.resistanceOhm).toBeCloseTo(0.2 / currentA, 12);
      const step = 1e-4;
      const byDepth = (of(0.2 + step, 24).resistanceOhm - of(0.2 - step, 24).resistanceOhm) / (2 * step);
      const byBus = (of(0.2, 24 + step).resistanceOhm - of(0.2, 24 - step).resistanceOhm) / (2 * step);
      const [depth, rating, bus] = found.rows;
      expect(depth).toMatchObject({ source: "reference-depth", value: 0.2, u: 0.004, unit: "V" });
      expect(depth!.sensitivity).toBeCloseTo(byDepth, 7);
      expect(rating).toMatchObject({ source: "reference-rating", value: 1, unit: "1", u: 0.05 / Math.sqrt(3) });
      expect(rating!.sensitivity).toBeCloseTo(-found.resistanceOhm, 12);
      expect(bus).toMatchObject({ source: "bus-voltage", value: 24, u: 0.3, unit: "V" });
      expect(bus!.sensitivity).toBeCloseTo(byBus, 7);
      const parts = [byDepth * 0.004, (found.resistanceOhm * 0.05) / Math.sqrt(3), byBus * 0.3];
      expect(found.uOhm).toBeCloseTo(Math.hypot(...parts), 7);
      // The current hangs on rating and voltage.
      const slopeA = (of(0.2, 24 + step).currentA - of(0.2, 24 - step).currentA) / (2 * step);
      expect(found.uCurrentA).toBeCloseTo(Math.hypot((currentA * 0.05) / Math.sqrt(3), slopeA * 0.3), 4);
      // Draws scatter as the first order says: 4,000 of them know it to 1 %, and the rest is not linear.
      const random = randomGenerator(5);
      for (const [draw, value, u] of [
        [found.draw, found.resistanceOhm, found.uOhm],
        [found.drawA, found.currentA, found.uCurrentA],
      ] as const) {
        const draws = Array.from({ length: 4000 }, () => draw(random));
        const mean = draws.reduce((a, b) => a + b, 0) / draws.length;
        const sd = Math.sqrt(draws.reduce((sum, v) => sum + (v - mean) ** 2, 0) / draws.length);
        expect(Math.abs(mean - value)).toBeLessThan(0.1 * u);
        expect(Math.abs(sd / u - 1)).toBeLessThan(0.06);
      }
    },
  );

  it("takes the profile's own tolerance, and tells which it took", () => {
    const found = resistanceFromReference({ kind: "resistive", rated: { ...rated, toleranceFraction: 0.2 } }, dip);
    expect(found).toMatchObject({ toleranceFraction: 0.2, rows: [{}, { u: 0.2 / Math.sqrt(3) }, {}] });
    expect(resistanceFromReference({ kind: "resistive", rated }, dip)).toMatchObject({ toleranceFraction: 0.05 });
  });

  it("is unknown without a rating, and from a dip of less than four standard uncertainties", () => {
    expect(resistanceFromReference({ kind: "resistive" }, dip)).toEqual({
      known: false,
      reason: "no-current-reference",
    });
    const weak = (u: number) =>
      resistanceFromReference({ kind: "resistive", rated }, { ...dip, depth: { value: 0.2, u } }).known;
    expect(weak(0.05)).toBe(true);
    expect(weak(0.0501)).toBe(false);
  });
});
