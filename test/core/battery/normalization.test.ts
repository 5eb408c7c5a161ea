import { describe, expect, it } from "vitest";
import { internalResistance } from "../../../src/core/battery/internal-resistance.js";
import { normalizedResistance } from "../../../src/core/battery/normalization.js";

const resistanceOhm = { value: 0.01, u: 0.0005 };

describe("internalResistance()", () => {
  it("takes the path off and adds its uncertainty in quadrature", () => {
    const answer = internalResistance({ value: 0.013, u: 0.0003 }, { value: 0.003, u: 0.0004 });
    expect(answer.known && answer.resistanceOhm.value).toBeCloseTo(0.01, 15);
    expect(answer.known && answer.resistanceOhm.u).toBeCloseTo(0.0005, 15);
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
