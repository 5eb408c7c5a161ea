import { describe, expect, it } from "vitest";
import { analyze, type BusProfile } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const OHMIC = 0.02;
const POLAR = 0.01;
const PATH = 0.003;

/** A heater of 12 A on for 20 s, three times; battery of 20 mOhm and 10 mOhm with a time constant, behind 3 mOhm of path. */
function recorded(seed: number, tauS: number, rateHz = 10) {
  const random = randomGenerator(seed);
  const phase = random.uniform() / rateHz;
  const timesS = Float64Array.from({ length: Math.round(150 * rateHz) }, (_, i) => phase + i / rateHz);
  const on = [20.03, 65.51, 110.27];
  let polar = 0;
  let previousS = 0;
  const currentsA = new Float64Array(timesS.length);
  const voltagesV = timesS.map((t, i) => {
    // Exact between edges: the pair is carried in small steps.
    for (let s = previousS; s < t; s += 0.001) {
      const amps = on.some((onset) => s >= onset && s < onset + 20) ? 12 : 0;
      polar += (0.001 / tauS) * (POLAR * amps - polar);
    }
    previousS = t;
    const amps = on.some((onset) => t >= onset && t < onset + 20) ? 12 : 0;
    currentsA[i] = 3 + amps + 0.01 * random.normal();
    return 25 - 0.0002 * t - (OHMIC + PATH) * amps - polar + 0.002 * random.normal();
  });
  return { timesS, voltagesV, current: { timesS, currentsA } };
}

const profile: BusProfile = {
  battery: { chemistry: "lead-acid", capacityAh: 44 },
  pathResistanceOhm: { value: PATH, u: 0.0002 },
  meter: { lagS: 0.001 },
  loads: [{ id: "probe", kind: "resistive", reference: false }],
};

describe("analyze() of a measured current", () => {
  it("splits the source resistance into ohmic part and polarisation, each within three standard uncertainties", () => {
    for (let seed = 1; seed <= 5; seed++) {
      const { model } = analyze(recorded(seed, 4), { profile }).battery;
      expect(model, `seed ${seed}`).not.toBeNull();
      const { ohmic, pairs } = model!;
      expect(pairs.length).toBe(1);
      for (const [told, truth] of [
        [ohmic, OHMIC + PATH],
        [pairs[0]!.resistance, POLAR],
        [pairs[0]!.timeConstant, 4],
      ] as const) {
        expect(Math.abs(told.value - truth), `seed ${seed}`).toBeLessThan(3 * told.u);
        // And is of use.
        expect(told.u).toBeLessThan(0.2 * truth);
      }
    }
  });

  it("says why where the polarisation is too slow for the dips", () => {
    const { battery, assumptions } = analyze(recorded(6, 400), { profile });
    expect(battery.model).toBeNull();
    expect(assumptions).toContainEqual(expect.objectContaining({ code: "not-identifiable", what: "polarization" }));
  });

  it("says nothing of it where no current was measured", () => {
    const { timesS, voltagesV } = recorded(7, 4);
    const { battery, assumptions } = analyze({ timesS, voltagesV }, { profile });
    expect(battery.model).toBeNull();
    expect(assumptions.some((one) => one.code === "not-identifiable" && one.what === "polarization")).toBe(false);
  });
});

describe("analyze() of a battery at a known temperature", () => {
  it("normalises the internal resistance by the Arrhenius factor and the charge, with a budget that adds up", () => {
    const given = { temperatureC: { value: -5, u: 2 }, stateOfCharge: { value: 0.8, u: 0.05 } };
    const { battery, budgets } = analyze(recorded(8, 4), { profile, ...given });
    const { internal, normalized } = battery;
    // By hand: R / (exp(650 (1/268.15 - 1/293.15)) (1 + 0.4 x 0.2)), guide values of the chemistry.
    const factor = Math.exp(650 * (1 / 268.15 - 1 / 293.15)) * 1.08;
    expect(normalized!.resistance.value).toBeCloseTo(internal!.resistance.value / factor, 9);
    expect(normalized!.atS).toBe(internal!.atS);
    const budget = budgets.find(({ quantity }) => quantity === "normalized-resistance")!;
    const sum = Math.sqrt(budget.rows.reduce((total, row) => total + (row.sensitivity * row.u) ** 2, 0));
    expect(sum).toBeCloseTo(normalized!.resistance.u, 9);
    // Sensitivities against small changes by hand.
    const warmer = analyze(recorded(8, 4), { profile, ...given, temperatureC: { value: -4.9, u: 2 } }).battery;
    const slope = (warmer.normalized!.resistance.value - normalized!.resistance.value) / 0.1;
    const row = budget.rows.find(({ source }) => source === "temperature")!;
    expect(row.sensitivity / slope).toBeCloseTo(1, 2);
  });

  it("leaves it unknown without a temperature, and says so", () => {
    const { battery, assumptions } = analyze(recorded(9, 4), { profile });
    expect(battery.normalized).toBeNull();
    expect(assumptions).toContainEqual({
      code: "not-identifiable",
      what: "normalized",
      load: null,
      why: "no-temperature",
    });
  });
});
