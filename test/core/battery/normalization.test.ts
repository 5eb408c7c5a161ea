import { describe, expect, it } from "vitest";
import { internalResistance } from "../../../src/core/battery/internal-resistance.js";
import { normalizationRows, normalizedDraw, normalizedResistance } from "../../../src/core/battery/normalization.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const resistanceOhm = { value: 0.01, u: 0.0005 };

describe("internalResistance()", () => {
  it("takes the path off and adds its uncertainty in quadrature", () => {
    const answer = internalResistance({ value: 0.013, u: 0.0003 }, { value: 0.003, u: 0.0004 });
    expect(answer.known && answer.resistanceOhm.value).toBeCloseTo(0.01, 15);
    expect(answer.known && answer.resistanceOhm.u).toBeCloseTo(0.0005, 15);
  });

  it("draws up both resistances as rows, the path against the source", () => {
    const answer = internalResistance({ value: 0.013, u: 0.0003 }, { value: 0.003, u: 0.0004 });
    expect(answer.known && answer.rows).toEqual([
      { source: "known-resistance", value: 0.013, unit: "Ohm", u: 0.0003, sensitivity: 1 },
      { source: "path-resistance", value: 0.003, unit: "Ohm", u: 0.0004, sensitivity: -1 },
    ]);
  });

  it("is unknown where the path is", () => {
    expect(internalResistance(resistanceOhm, undefined)).toEqual({ known: false, reason: "path-unknown" });
  });
});

describe("normalizedResistance()", () => {
  it("changes nothing at 20 C and full charge", () => {
    const answer = normalizedResistance({
      resistanceOhm,
      chemistry: "lead-acid",
      temperatureC: { value: 20, u: 0 },
      stateOfCharge: { value: 1, u: 0 },
    });
    expect(answer.known && answer.resistanceOhm).toEqual({ value: 0.01, u: 0.0005 });
  });

  it("the same battery read at -18 C and at +30 C comes out the same, 50 % apart before", () => {
    // Guide figure: lead-acid +50 % from +30 C to -18 C.
    const at = (value: number, temperatureC: number) => {
      const answer = normalizedResistance({
        resistanceOhm: { value, u: 0 },
        chemistry: "lead-acid",
        temperatureC: { value: temperatureC, u: 0 },
      });
      if (!answer.known) throw new Error(answer.reason);
      return answer.resistanceOhm;
    };
    expect(Math.abs(at(0.015, -18).value / at(0.01, 30).value - 1)).toBeLessThan(0.01);
  });

  it("5 K of doubt at 20 C are worth 3.8 %, 10 % of charge 4 %", () => {
    const answer = normalizedResistance({
      resistanceOhm,
      chemistry: "lead-acid",
      temperatureC: { value: 20, u: 5 },
      stateOfCharge: { value: 1, u: 0.1 },
    });
    expect(answer.known && answer.parts.temperature).toBeCloseTo((650 / 293.15 ** 2) * 5, 12);
    expect(answer.known && answer.parts.stateOfCharge).toBeCloseTo(0.04, 12);
  });

  it("refuses without chemistry or temperature, and says when the charge was assumed", () => {
    const temperatureC = { value: 20, u: 2 };
    expect(normalizedResistance({ resistanceOhm, temperatureC })).toEqual({ known: false, reason: "no-chemistry" });
    expect(normalizedResistance({ resistanceOhm, chemistry: "ni-cd" })).toEqual({
      known: false,
      reason: "no-temperature",
    });
    expect(normalizedResistance({ resistanceOhm, chemistry: "ni-cd", temperatureC })).toMatchObject({
      chargeAssumed: true,
    });
  });
});

describe("normalizedResistance() in full", () => {
  const given = {
    resistanceOhm,
    chemistry: "ni-cd" as const,
    temperatureC: { value: 0, u: 3 },
    stateOfCharge: { value: 0.6, u: 0.2 },
  };
  const found = normalizedResistance(given);
  if (!found.known) throw new Error(found.reason);
  // Guide values of Ni-Cd: 500 +/- 300 K, 0.1 +/- 0.1 from full to empty.
  const apart = 1 / 273.15 - 1 / 293.15;
  const value = 0.01 / (Math.exp(500 * apart) * 1.04);

  it("divides by Arrhenius' factor and the charge's", () => {
    expect(found.resistanceOhm.value).toBeCloseTo(value, 12);
    expect(found).toMatchObject({ chargeAssumed: false, stateOfCharge: { value: 0.6, u: 0.2 } });
    expect(found.coefficients.origin).toBe("guide");
  });

  it("parts its relative uncertainty by derivatives", () => {
    expect(found.parts.resistance).toBeCloseTo(0.05, 12);
    expect(found.parts.temperature).toBeCloseTo((500 / 273.15 ** 2) * 3, 12);
    expect(found.parts.temperatureCoefficient).toBeCloseTo(apart * 300, 12);
    expect(found.parts.stateOfCharge).toBeCloseTo((0.1 / 1.04) * 0.2, 12);
    expect(found.parts.chargeCoefficient).toBeCloseTo((0.4 / 1.04) * 0.1, 12);
    expect(found.resistanceOhm.u).toBeCloseTo(value * Math.hypot(...Object.values(found.parts)), 12);
  });

  it("takes coefficients that are given over the guide's, without a chemistry too; nine tenths charged where untold", () => {
    const coefficients = {
      temperatureK: { value: 1000, u: 10 },
      emptyRise: { value: 0.5, u: 0.01 },
      origin: "fitted" as const,
    };
    const { chemistry: _, stateOfCharge: __, ...rest } = given;
    const fitted = normalizedResistance({ ...rest, coefficients });
    if (!fitted.known) throw new Error(fitted.reason);
    expect(fitted.resistanceOhm.value).toBeCloseTo(0.01 / (Math.exp(1000 * apart) * 1.05), 12);
    expect(fitted).toMatchObject({ coefficients, stateOfCharge: { value: 0.9, u: 0.1 } });
  });

  it("its budget has the sign of every derivative, by numeric differences", () => {
    const rows = Object.fromEntries(normalizationRows(found, given).map((row) => [row.source, row.sensitivity]));
    const at = (changed: Partial<Parameters<typeof normalizedResistance>[0]>) => {
      const answer = normalizedResistance({ ...given, ...changed });
      return answer.known ? answer.resistanceOhm.value : Number.NaN;
    };
    const step = 1e-4;
    const { temperatureK, emptyRise } = found.coefficients;
    const withCoefficients = (dK: number, dRise: number) =>
      at({
        coefficients: {
          temperatureK: { ...temperatureK, value: temperatureK.value + dK },
          emptyRise: { ...emptyRise, value: emptyRise.value + dRise },
          origin: "guide",
        },
      });
    const slopes = {
      resistance:
        (at({ resistanceOhm: { value: 0.01 + 1e-6, u: 0 } }) - at({ resistanceOhm: { value: 0.01 - 1e-6, u: 0 } })) /
        2e-6,
      temperature:
        (at({ temperatureC: { value: step, u: 3 } }) - at({ temperatureC: { value: -step, u: 3 } })) / (2 * step),
      "temperature-coefficient": (withCoefficients(0.1, 0) - withCoefficients(-0.1, 0)) / 0.2,
      "state-of-charge":
        (at({ stateOfCharge: { value: 0.6 + step, u: 0 } }) - at({ stateOfCharge: { value: 0.6 - step, u: 0 } })) /
        (2 * step),
      "charge-coefficient": (withCoefficients(0, step) - withCoefficients(0, -step)) / (2 * step),
    };
    expect(Object.keys(rows)).toEqual(Object.keys(slopes));
    for (const [source, slope] of Object.entries(slopes)) expect(rows[source]! / slope, source).toBeCloseTo(1, 5);
    // Above 20 C a larger coefficient raises the result.
    const warm = { ...given, temperatureC: { value: 30, u: 3 } };
    const warmed = normalizedResistance(warm);
    if (!warmed.known) throw new Error(warmed.reason);
    const row = normalizationRows(warmed, warm).find(({ source }) => source === "temperature-coefficient")!;
    expect(row.sensitivity).toBeGreaterThan(0);
    expect(row).toMatchObject({ value: 500, u: 300, unit: "K" });
    const kelvin = normalizationRows(found, given)[1]!;
    expect(kelvin).toMatchObject({ value: 273.15, u: 3, unit: "K" });
    // An input that is sure has no part and no sensitivity to show.
    const sure = { ...given, temperatureC: { value: 0, u: 0 } };
    const surely = normalizedResistance(sure);
    if (!surely.known) throw new Error(surely.reason);
    expect(normalizationRows(surely, sure)[1]!.sensitivity).toBe(0);
  });

  it("drawn has the spread that the first order says, where all is nearly linear", () => {
    const calm = { ...given, temperatureC: { value: 0, u: 0.5 }, stateOfCharge: { value: 0.6, u: 0.02 } };
    const coefficients = {
      temperatureK: { value: 500, u: 20 },
      emptyRise: { value: 0.3, u: 0.02 },
      origin: "fitted" as const,
    };
    const first = normalizedResistance({ ...calm, coefficients });
    if (!first.known) throw new Error(first.reason);
    const random = randomGenerator(1);
    const draw = normalizedDraw(first, calm.temperatureC, () => 0.01 + 0.0001 * random.normal());
    const drawn = Array.from({ length: 20_000 }, () => draw(random));
    const mean = drawn.reduce((a, b) => a + b, 0) / drawn.length;
    const sd = Math.sqrt(drawn.reduce((sum, v) => sum + (v - mean) ** 2, 0) / drawn.length);
    const { resistance: _, ...others } = first.parts;
    const u = first.resistanceOhm.value * Math.hypot(0.01, ...Object.values(others));
    // A standard deviation of 20,000 draws is off by 0.5 %; four of these, and what is not linear.
    expect(Math.abs(sd / u - 1)).toBeLessThan(0.03);
    expect(Math.abs(mean - first.resistanceOhm.value)).toBeLessThan(0.05 * u);
  });

  it("never draws a charge beyond full or empty", () => {
    const full = normalizedResistance({
      ...given,
      temperatureC: { value: 20, u: 0 },
      stateOfCharge: { value: 5, u: 0 },
    });
    const empty = normalizedResistance({
      ...given,
      temperatureC: { value: 20, u: 0 },
      stateOfCharge: { value: -3, u: 0 },
    });
    if (!full.known || !empty.known) throw new Error("known");
    const still = { uniform: () => 0.5, normal: () => 0 };
    expect(normalizedDraw(full, { value: 20, u: 0 }, () => 0.01)(still)).toBeCloseTo(0.01, 12);
    expect(normalizedDraw(empty, { value: 20, u: 0 }, () => 0.01)(still)).toBeCloseTo(0.01 / 1.1, 12);
  });
});
