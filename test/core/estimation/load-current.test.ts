import { describe, expect, it } from "vitest";
import { currentByReference, currentFromResistance } from "../../../src/core/estimation/load-current.js";
import { currentFromSource, loadLaw } from "../../../src/core/estimation/load-kind.js";
import { resistanceFromReference } from "../../../src/core/estimation/source-resistance.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("currentFromSource()", () => {
  it("solves Kirchhoff's law: source voltage less drop times current is the load's power", () => {
    for (const [kind, rated] of [
      ["resistive", { powerW: 500, atV: 24 }],
      ["constant-power", { powerW: 500, atV: 24 }],
    ] as const) {
      const amperes = currentFromSource(loadLaw(kind, rated), 24, 0.03)!;
      const terminalV = 24 - 0.03 * amperes;
      const watts = kind === "resistive" ? terminalV ** 2 / (24 ** 2 / 500) : 500;
      expect(Math.abs((terminalV * amperes) / watts - 1)).toBeLessThan(1e-12);
    }
  });

  it("tells that a constant-power load asks for more than the source can give", () => {
    expect(currentFromSource({ kind: "power", powerW: 5000 }, 24, 0.03)).toBeNull();
  });

  it("does not fall apart without source resistance", () => {
    expect(currentFromSource({ kind: "power", powerW: 240 }, 24, 0)).toBe(10);
  });
});

describe("resistanceFromReference()", () => {
  it.each([
    ["heater", { powerW: 160, atV: 28 }],
    ["resistive", { powerW: 250, atV: 28 }],
    ["constant-power", { powerW: 250, atV: 28 }],
    ["constant-current", { currentA: 8 }],
  ] as const)("returns the resistance that made the dip of a %s load", (kind, rated) => {
    const amperes = currentFromSource(loadLaw(kind, rated), 25, 0.021)!;
    const answer = resistanceFromReference(
      { kind, rated },
      { depth: { value: 0.021 * amperes, u: 0.005 }, busV: { value: 25, u: 0.05 } },
    );
    expect(answer.known && Math.abs(answer.resistanceOhm / 0.021 - 1)).toBeLessThan(1e-12);
    expect(answer.known && Math.abs(answer.currentA / amperes - 1)).toBeLessThan(1e-12);
  });

  it("has the sensitivities of numeric differences", () => {
    for (const [kind, rated] of [
      ["resistive", { powerW: 250, atV: 28 }],
      ["constant-power", { powerW: 250, atV: 28 }],
    ] as const) {
      const at = (depthV: number, busV: number, scale: number) => {
        const answer = resistanceFromReference(
          { kind, rated: { powerW: rated.powerW * scale, atV: rated.atV } },
          { depth: { value: depthV, u: 1e-3 }, busV: { value: busV, u: 0 } },
        );
        if (!answer.known) throw new Error(answer.reason);
        return answer;
      };
      const numeric = [
        (at(0.2001, 25, 1).resistanceOhm - at(0.1999, 25, 1).resistanceOhm) / 2e-4,
        (at(0.2, 25, 1.001).resistanceOhm - at(0.2, 25, 0.999).resistanceOhm) / 2e-3,
        (at(0.2, 25.01, 1).resistanceOhm - at(0.2, 24.99, 1).resistanceOhm) / 2e-2,
      ];
      at(0.2, 25, 1).rows.forEach((row, k) => {
        expect(Math.abs(row.sensitivity / numeric[k] - 1)).toBeLessThan(1e-3);
      });
    }
  });

  it("refuses a reference dip of less than four standard uncertainties, and a load without rating", () => {
    const dip = { depth: { value: 0.03, u: 0.01 }, busV: { value: 25, u: 0.1 } };
    expect(resistanceFromReference({ kind: "heater", rated: { powerW: 160, atV: 28 } }, dip)).toEqual({
      known: false,
      reason: "reference-too-weak",
    });
    expect(resistanceFromReference({ kind: "heater" }, dip)).toEqual({ known: false, reason: "no-current-reference" });
  });
});

describe("currentFromResistance()", () => {
  const options = { coverage: 0.95, random: randomGenerator(1) };

  it("stays first-order for a resistance known to 5 %", () => {
    const answer = currentFromResistance({ value: 0.2, u: 0.01 }, { value: 0.02, u: 0.001 }, options);
    expect(answer).toMatchObject({ known: true, currentA: 10, method: "first-order" });
    expect(answer.known && answer.uA).toBeCloseTo(10 * Math.hypot(0.05, 0.05), 10);
  });

  it("draws from a tenth of the resistance on, however little the interval leans beside the noise of the depth", () => {
    const method = (share: number) => {
      const answer = currentFromResistance({ value: 0.2, u: 0.2 }, { value: 0.02, u: 0.02 * share }, options);
      if (!answer.known) throw new Error(answer.reason);
      return answer.method;
    };
    expect([0.095, 0.105].map(method)).toEqual(["first-order", "monte-carlo"]);
  });

  it("draws for a resistance known to 25 %: the interval leans upwards, quantiles of the exact ratio", () => {
    // Without noise on the depth the ratio is log-normal: 10 exp(-+ 1.96 sqrt(ln(1 + 0.25^2))).
    const answer = currentFromResistance({ value: 0.2, u: 1e-9 }, { value: 0.02, u: 0.005 }, options);
    if (!answer.known) throw new Error(answer.reason);
    expect(answer.method).toBe("monte-carlo");
    const spread = 1.959964 * Math.sqrt(Math.log(1.0625));
    expect(Math.abs(answer.low / (10 * Math.exp(-spread)) - 1)).toBeLessThan(0.01);
    expect(Math.abs(answer.high / (10 * Math.exp(spread)) - 1)).toBeLessThan(0.01);
  });
});

describe("currentByReference()", () => {
  it("covers the true current in 95 % of 4000 draws with a reference dip of 5 standard uncertainties (94 to 96 %)", () => {
    const random = randomGenerator(11);
    let covered = 0;
    for (let k = 0; k < 4000; k++) {
      const answer = currentByReference(
        {
          depth: { value: 0.08 + 0.01 * random.normal(), u: 0.01 },
          referenceDepth: { value: 0.05 + 0.01 * random.normal(), u: 0.01 },
          referenceCurrentA: { value: 5 * (1 + 0.03 * random.normal()), u: 0.15 },
        },
        { coverage: 0.95 },
      );
      // Below four standard uncertainties the answer is "cannot tell", which is never wrong.
      if (!answer.known || (answer.low <= 8 && answer.high >= 8)) covered++;
    }
    expect(covered / 4000).toBeGreaterThan(0.94);
    expect(covered / 4000).toBeLessThan(0.985);
  });

  it("is, to first order, the value give or take 1.96 of its uncertainty (JCGM 100:2008, 5.2.2)", () => {
    for (const correlation of [0, 0.6]) {
      const [depth, referenceDepth, referenceCurrentA] = [
        { value: 0.08, u: 0.004 },
        { value: 0.05, u: 0.003 },
        { value: 5, u: 0.1 },
      ] as const;
      const found = currentByReference({ depth, referenceDepth, referenceCurrentA, correlation }, { coverage: 0.95 });
      if (!found.known) throw new Error(found.reason);
      // Relative variances add, less twice the covariance of the two depths: 0.05, 0.06 and 0.02.
      const u = 8 * Math.sqrt(0.05 ** 2 + 0.06 ** 2 + 0.02 ** 2 - 2 * correlation * 0.05 * 0.06);
      expect(found.currentA).toBeCloseTo(8, 12);
      expect(found.uA).toBeCloseTo(u, 12);
      expect(found.low).toBeCloseTo(8 - 1.959964 * u, 6);
      expect(found.high).toBeCloseTo(8 + 1.959964 * u, 6);
    }
  });

  it("is first-order from ten standard uncertainties on, Fieller's below, unknown below four", () => {
    const answer = (uV: number) =>
      currentByReference(
        {
          depth: { value: 0.08, u: uV },
          referenceDepth: { value: 0.05, u: uV },
          referenceCurrentA: { value: 5, u: 0.1 },
        },
        { coverage: 0.95 },
      );
    expect(answer(0.004)).toMatchObject({ currentA: 8, method: "first-order" });
    expect(answer(0.008)).toMatchObject({ currentA: 8, method: "fieller" });
    expect(answer(0.02)).toEqual({ known: false, reason: "reference-too-weak" });
  });
});
