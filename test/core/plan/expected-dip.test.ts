import { describe, expect, it } from "vitest";
import { expectedDip, nominalCurrent, plannedSource, restedBusV } from "../../../src/core/plan/expected-dip.js";
import type { BusProfile, LoadProfile } from "../../../src/core/profile.js";

const load = (more: Partial<LoadProfile>): LoadProfile => ({ id: "a", kind: "resistive", reference: false, ...more });
const busV = { value: 24, u: 1.2 };
const source = { value: 0.02, u: 0.002, from: "profile" as const, lowOhm: 0.016 };

describe("plannedSource()", () => {
  const profile: BusProfile = {
    battery: { resistanceOhm: { value: 0.012, u: 0.003 } },
    pathResistanceOhm: { value: 0.008, u: 0.004 },
    loads: [],
  };

  it("is the stated one if there is one, two standard uncertainties lower at its low end and never below nothing", () => {
    expect(plannedSource(profile, { value: 0.03, u: 0.01, from: "history" })).toEqual({
      value: 0.03,
      u: 0.01,
      from: "history",
      lowOhm: expect.closeTo(0.01, 15),
    });
    expect(plannedSource(profile, { value: 0.03, u: 0.02, from: "stated" })!.lowOhm).toBe(0);
  });

  it("else battery and path together, in quadrature; the battery alone without a path; null without a battery", () => {
    expect(plannedSource(profile, null)).toEqual({
      value: expect.closeTo(0.02, 15),
      u: expect.closeTo(0.005, 15),
      from: "profile",
      lowOhm: expect.closeTo(0.01, 15),
    });
    const { pathResistanceOhm: _, ...pathless } = profile;
    expect(plannedSource(pathless, null)).toEqual({
      value: 0.012,
      u: 0.003,
      from: "profile",
      lowOhm: expect.closeTo(0.006, 15),
    });
    const loose = { ...pathless, battery: { resistanceOhm: { value: 0.012, u: 0.007 } } };
    expect(plannedSource(loose, null)!.lowOhm).toBe(0);
    expect(plannedSource({ loads: [] }, null)).toBeNull();
  });
});

describe("restedBusV()", () => {
  it("is the middle of what a rested cell shows times the cells, rectangular; 24 V where the battery is not told", () => {
    // Ni-Cd 1.2 to 1.35 V at rest (battery/rest-voltage.ts), 20 cells.
    const { value, u } = restedBusV({ battery: { chemistry: "ni-cd", cells: 20 }, loads: [] });
    expect(value).toBeCloseTo(25.5, 12);
    expect(u).toBeCloseTo((20 * 0.075) / Math.sqrt(3), 12);
    for (const battery of [{}, { chemistry: "ni-cd" as const }, { cells: 20 }])
      expect(restedBusV({ battery, loads: [] })).toEqual({ value: 24, u: 1 });
    expect(restedBusV({ loads: [] })).toEqual({ value: 24, u: 1 });
  });
});

describe("nominalCurrent()", () => {
  it("is the rating's current at the bus voltage behind the source resistance", () => {
    // 115.2 W at 24 V: 5 Ohm; behind 1 Ohm 24 / 6 = 4 A, uncertain by rating and voltage.
    const { value, u } = nominalCurrent(load({ rated: { powerW: 115.2, atV: 24, toleranceFraction: 0.1 } }), 1, busV)!;
    expect(value).toBeCloseTo(4, 12);
    expect(u).toBeCloseTo(4 * Math.hypot(0.1 / Math.sqrt(3), 0.05), 12);
  });

  it("of a constant current hangs on no voltage; 5 % of tolerance where none is told", () => {
    const { value, u } = nominalCurrent(load({ rated: { currentA: 3 } }), 1, busV)!;
    expect(value).toBe(3);
    expect(u).toBeCloseTo(0.15 / Math.sqrt(3), 12);
  });

  it("else is the middle of what is acceptable; also where the rating asks for more than the source gives", () => {
    const { value, u } = nominalCurrent(load({ acceptA: [2, 5] }), 1, busV)!;
    expect(value).toBe(3.5);
    expect(u).toBeCloseTo(1.5 / Math.sqrt(3), 12);
    const greedy = load({ kind: "constant-power", rated: { powerW: 200, atV: 24 } });
    expect(nominalCurrent(greedy, 1, busV)).toBeNull();
    expect(nominalCurrent({ ...greedy, acceptA: [2, 5] }, 1, busV)!.value).toBe(3.5);
    expect(nominalCurrent(load({}), 1, busV)).toBeNull();
  });
});

describe("expectedDip()", () => {
  it("is current times resistance; the lowest acceptable current at the low end must be found", () => {
    const dip = expectedDip(load({ rated: { currentA: 5, toleranceFraction: 0.2 }, acceptA: [4, 6] }), source, busV);
    expect(dip.nominal!.value).toBeCloseTo(0.1, 12);
    expect(dip.nominal!.u).toBeCloseTo(0.1 * Math.hypot(0.2 / Math.sqrt(3), 0.1), 12);
    expect(dip.lowestV).toBeCloseTo(0.064, 12);
    expect(dip.plannedV).toBe(dip.lowestV);
  });

  it("without an acceptable current the low end of the nominal dip, where that is above nothing", () => {
    const rated = (toleranceFraction: number) => load({ rated: { currentA: 5, toleranceFraction } });
    const dip = expectedDip(rated(0.2), source, busV);
    expect(dip.lowestV).toBeNull();
    expect(dip.plannedV).toBeCloseTo(0.1 - 2 * dip.nominal!.u, 12);
    // u / value = 0.9 / sqrt 3 > 1/2.
    expect(expectedDip(rated(0.9), source, busV).plannedV).toBeNull();
  });

  it("is not known without a resistance, and by its acceptable current alone where nothing is rated", () => {
    const none = { nominal: null, lowestV: null, plannedV: null };
    expect(expectedDip(load({ acceptA: [4, 6] }), null, busV)).toEqual(none);
    expect(expectedDip(load({}), source, busV)).toEqual(none);
    expect(expectedDip(load({ acceptA: [4, 6] }), source, busV).nominal!.value).toBeCloseTo(0.1, 12);
  });

  it("reckons a resistance behind the source, so that its dip is a little less", () => {
    const heavy = { ...source, value: 1, lowOhm: 0.5 };
    const dip = expectedDip(load({ rated: { powerW: 115.2, atV: 24 } }), heavy, busV);
    expect(dip.nominal!.value).toBeCloseTo(4, 12);
  });
});
