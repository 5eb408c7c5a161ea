import { describe, expect, it } from "vitest";
import type { Dip, ResistanceAt } from "../../../src/core/analysis.js";
import { type BatteryInput, batteryAnswer } from "../../../src/core/battery/battery-answer.js";
import type { SourceResistance } from "../../../src/core/estimation/source-from-recording.js";
import type { BusProfile } from "../../../src/core/profile.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { type RandomGenerator, randomGenerator } from "../../../src/core/statistics/random.js";

/** 20 mOhm +/- 0.5 mOhm right after the step, 5 % +/- 1.75 % more after a second. */
const source: SourceResistance = {
  known: true,
  resistanceOhm: 0.02,
  uOhm: 0.0005,
  route: "reference-load",
  load: "lamp",
  current: null,
  currents: [],
  rows: [{ source: "reference-depth", value: 0.2, unit: "V", u: 0.005, sensitivity: 0.1 }],
  growth: { value: 0.05, u: 0.0175 },
  draw: (random: RandomGenerator) => 0.02 + 0.0005 * random.normal(),
  tolerances: [],
};
const profile: BusProfile = {
  battery: { chemistry: "lead-acid", capacityAh: 40 },
  pathResistanceOhm: { value: 0.003, u: 0.0002 },
  requiredEnduranceMin: 30,
  loads: [{ id: "lamp", kind: "constant-current", reference: true, rated: { currentA: 15, toleranceFraction: 0.1 } }],
};
const input = (changed: Partial<BatteryInput> = {}): BatteryInput => ({
  source,
  dips: [],
  steps: null,
  profile,
  baseA: { value: 5, u: 0.2 },
  busV: { value: 24, u: 0.01 },
  random: randomGenerator(1),
  regulated: false,
  temperatureC: { value: 0, u: 2 },
  stateOfCharge: { value: 0.9, u: 0.1 },
  polarization: null,
  twoCurrent: [],
  ...changed,
});
const answered = (changed: Partial<BatteryInput> = {}) => batteryAnswer(input(changed));
const whyNot = (changed: Partial<BatteryInput>, what: string) =>
  answered(changed).assumptions.flatMap((one) =>
    one.code === "not-identifiable" && one.what === what ? [one.why] : [],
  );
const u1s = Math.hypot(1.05 * 0.0005, 0.02 * 0.0175);

describe("batteryAnswer()", () => {
  it("states the source resistance 1 s after the step, grown by the polarisation", () => {
    const { answer, budgets, assumptions } = answered();
    expect(answer.source!.atS).toBe(1);
    expect(answer.source!.resistance).toMatchObject({ unit: "Ohm", route: "reference-load" });
    expect(answer.source!.resistance.value).toBeCloseTo(0.021, 12);
    expect(answer.source!.resistance.u).toBeCloseTo(u1s, 12);
    const budget = budgets.find(({ quantity }) => quantity === "source-resistance")!;
    expect(budget).toMatchObject({ load: "lamp", unit: "Ohm", method: "first-order" });
    expect(budget.u).toBeCloseTo(u1s, 12);
    expect(budget.rows.map(({ source: one, sensitivity }) => [one, sensitivity])).toEqual([
      ["reference-depth", expect.closeTo(0.105, 12)],
      ["switching-time-and-shape", 0.02],
    ]);
    expect(budget.rows[1]).toMatchObject({ value: 1.05, unit: "1", u: 0.0175 });
    expect(assumptions).toContainEqual({ code: "resistance-at", atS: 1 });
    expect(answer.requiredEnduranceMin).toBe(30);
  });

  it("takes the path off for the internal one, and says that it did", () => {
    const { answer, budgets, assumptions } = answered();
    expect(answer.internal!.atS).toBe(1);
    expect(answer.internal!.resistance.value).toBeCloseTo(0.018, 12);
    expect(answer.internal!.resistance.u).toBeCloseTo(Math.hypot(u1s, 0.0002), 12);
    const budget = budgets.find(({ quantity }) => quantity === "internal-resistance")!;
    expect(budget.value).toBeCloseTo(0.018, 12);
    expect(budget.rows.at(-1)).toMatchObject({ source: "path-resistance", value: 0.003, u: 0.0002, sensitivity: -1 });
    expect(assumptions).toContainEqual({ code: "path-resistance-from-profile", valueOhm: 0.003, uOhm: 0.0002 });
    const { pathResistanceOhm: _, ...pathless } = profile;
    const without = answered({ profile: pathless });
    expect(without.answer).toMatchObject({ internal: null, normalized: null });
    expect(without.assumptions).toContainEqual({ code: "path-resistance-unknown" });
    expect(whyNot({ profile: pathless }, "internal-resistance")).toEqual(["path-unknown"]);
    expect(whyNot({ profile: pathless }, "normalized")).toEqual(["resistance-unknown"]);
  });

  it("tells no internal resistance where the source's is below the path's alone", () => {
    const longer = { profile: { ...profile, pathResistanceOhm: { value: 0.0215, u: 0.001 } } };
    expect(answered(longer).answer.internal).toBeNull();
    expect(answered(longer).answer.source!.resistance.value).toBeCloseTo(0.021, 12);
    expect(whyNot(longer, "internal-resistance")).toEqual(["below-path"]);
  });

  it("normalises the internal one to 20 C and full charge", () => {
    const { answer, assumptions, budgets } = answered();
    const factor = Math.exp(650 * (1 / 273.15 - 1 / 293.15)) * (1 + 0.4 * 0.1);
    expect(answer.normalized!.atS).toBe(1);
    expect(answer.normalized!.resistance.value).toBeCloseTo(0.018 / factor, 12);
    expect(budgets.some(({ quantity }) => quantity === "normalized-resistance")).toBe(true);
    expect(assumptions).toContainEqual({
      code: "normalized-to",
      temperatureC: 0,
      uTemperatureC: 2,
      referenceC: 20,
      stateOfCharge: 0.9,
      fittedCoefficients: false,
    });
    expect(whyNot({ temperatureC: null }, "normalized")).toEqual(["no-temperature"]);
    expect(whyNot({ profile: { ...profile, battery: { capacityAh: 40 } } }, "normalized")).toEqual(["no-chemistry"]);
    const low = answered({ stateOfCharge: { value: 0.5, u: 0.1 } }).answer.normalized!.resistance.value;
    expect(low / answer.normalized!.resistance.value).toBeCloseTo(1.04 / 1.2, 9);
    // Where no charge is told nine tenths are taken: the same here.
    const untold = answered({ stateOfCharge: null });
    expect(untold.answer.normalized!.resistance.value).toBeCloseTo(answer.normalized!.resistance.value, 12);
  });

  it("adds what the base current takes off the level", () => {
    const { answer, budgets } = answered();
    expect(answer.openCircuit!.value).toBeCloseTo(24 + 5 * 0.021, 12);
    expect(budgets.some(({ quantity }) => quantity === "open-circuit")).toBe(true);
    expect(whyNot({ baseA: null }, "open-circuit")).toEqual(["no-bus-current"]);
    expect(whyNot({ source: { known: false, reason: "path-unknown" } }, "open-circuit")).toEqual([
      "no-current-reference",
    ]);
    expect(whyNot({ busV: null }, "open-circuit")).toEqual(["no-current-reference"]);
  });

  it("reckons the endurance with all loads on top of the base current", () => {
    const { answer, assumptions, budgets } = answered();
    // 20 A of 40 Ah at 20 C: 60 x 2^1.15 x 0.9 x 0.96.
    expect(answer.endurance!.value).toBeCloseTo(60 * 2 ** 1.15 * 0.9 * 0.96, 9);
    expect(answer.endurance).toMatchObject({ unit: "min", coverage: 0.95, route: "capacity-and-current" });
    expect(budgets.find(({ quantity }) => quantity === "endurance")).toMatchObject({ unit: "min", load: null });
    const note = assumptions.find(({ code }) => code === "bus-current")!;
    expect(note).toMatchObject({ currentA: 20, baseMeasured: true, loadCount: 1 });
    expect(note).toMatchObject({ uA: expect.closeTo(Math.hypot(0.2, 1.5 / Math.sqrt(3)), 9) });
    expect(assumptions.some(({ code }) => code === "endurance-model")).toBe(true);
    const bare = { ...profile, busCurrentA: { value: 25, u: 1 } };
    expect(answered({ profile: bare, baseA: null }).assumptions).toContainEqual(
      expect.objectContaining({ code: "bus-current", currentA: 40 }),
    );
    expect(whyNot({ busV: null }, "endurance")).toEqual(["no-bus-current"]);
    expect(whyNot({ profile: { ...profile, battery: { capacityAh: 40 } } }, "endurance")).toEqual(["no-chemistry"]);
    expect(whyNot({ profile: null }, "endurance")).toEqual(["no-capacity"]);
    expect(answered({ profile: null }).answer.requiredEnduranceMin).toBeNull();
  });

  it("tells nothing of a battery behind a regulated source", () => {
    const twoCurrent = [{} as BatteryInput["twoCurrent"][number]];
    const { answer } = answered({ regulated: true, twoCurrent });
    expect(answer).toMatchObject({
      source: null,
      internal: null,
      normalized: null,
      openCircuit: null,
      endurance: null,
      model: null,
      twoCurrent: [],
    });
    expect(whyNot({ regulated: true }, "resistance")).toEqual(["source-is-regulated"]);
    expect(whyNot({ regulated: true }, "endurance")).toEqual(["no-bus-current"]);
    expect(answered({ twoCurrent }).answer.twoCurrent).toBe(twoCurrent);
  });

  it("gives the reason of the steps, else that of the source, where no resistance is known", () => {
    const unknown = { known: false, reason: "path-unknown" } as const;
    expect(whyNot({ source: unknown }, "resistance")).toEqual(["path-unknown"]);
    const steps = { onSteps: [], reason: "not-sampled-together" as const, dischargeSign: 1 as const };
    expect(whyNot({ source: unknown, steps }, "resistance")).toEqual(["not-sampled-together"]);
    expect(whyNot({ source: unknown, steps: { ...steps, reason: null } }, "resistance")).toEqual(["path-unknown"]);
  });

  it("splits ohmic part and polarisation where they are known, and says if the meter was taken to follow at once", () => {
    const model = { ohmic: normalQuantity(0.02, 0.001, "Ohm", "measured-current"), pairs: [] };
    const known = { known: true as const, model };
    expect(answered({ polarization: known }).answer.model).toBe(model);
    expect(answered({ polarization: known }).assumptions).toContainEqual({ code: "meter-follows-at-once" });
    const lagging = { ...profile, meter: { lagS: 0.3 } };
    expect(answered({ polarization: known, profile: lagging }).assumptions).not.toContainEqual({
      code: "meter-follows-at-once",
    });
    expect(whyNot({ polarization: known, regulated: true }, "polarization")).toEqual(["source-is-regulated"]);
    const faint = { known: false as const, why: "polarization-too-faint" as const };
    expect(whyNot({ polarization: faint }, "polarization")).toEqual(["polarization-too-faint"]);
    expect(whyNot({ polarization: faint, regulated: true }, "polarization")).toEqual(["polarization-too-faint"]);
    expect(whyNot({}, "polarization")).toEqual([]);
  });
});

describe("batteryAnswer(steps of a measured current)", () => {
  const stepped = (uOhm: number): Dip[] => {
    const resistance: ResistanceAt = { atS: 10, resistance: normalQuantity(0.03, uOhm, "Ohm", "measured-current") };
    return [{ resistances: [resistance] } as unknown as Dip];
  };

  it("takes the steps' resistance at their time where the fitted dips are no sharper", () => {
    const { answer, budgets } = answered({ dips: stepped(0.0003) });
    expect(answer.source!.atS).toBe(10);
    expect(answer.source!.resistance.value).toBeCloseTo(0.03, 12);
    expect(answer.internal!.resistance.value).toBeCloseTo(0.027, 12);
    expect(answer.internal!.atS).toBe(10);
    expect(answer.openCircuit!.value).toBeCloseTo(24 + 5 * 0.03, 9);
    const budget = budgets.find(({ quantity }) => quantity === "source-resistance")!;
    expect(budget.load).toBeNull();
    expect(budget.rows).toMatchObject([
      { source: "measured-current", value: expect.closeTo(0.03, 12), u: 0.0003, sensitivity: 1 },
    ]);
  });

  it("else the fitted dips', by their relative uncertainties with that of the growth", () => {
    // Dips: 2.5 % and 1.75 / 1.05 = 1.667 % together 3.005 %.
    expect(answered({ dips: stepped(0.03 * 0.03) }).answer.source!.atS).toBe(10);
    expect(answered({ dips: stepped(0.03 * 0.0301) }).answer.source!.atS).toBe(1);
    const unknown = { known: false, reason: "path-unknown" } as const;
    expect(answered({ dips: stepped(0.02), source: unknown }).answer.source!.atS).toBe(10);
  });
});
