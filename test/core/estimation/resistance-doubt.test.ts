import { describe, expect, it } from "vitest";
import { lowestResistanceOhm, resistanceDoubt } from "../../../src/core/estimation/resistance-doubt.js";
import { type EstimatedDip, sourceResistance } from "../../../src/core/estimation/source-from-recording.js";
import type { BusProfile } from "../../../src/core/index.js";

const loads: BusProfile["loads"] = [
  { id: "light", kind: "resistive", acceptA: [6, 10], reference: false },
  { id: "heat", kind: "heater", acceptA: [4, 7.5], reference: false },
];
const battery = { resistanceOhm: { value: 0.0095, u: 0.0015 } };
const path = { value: 0.003, u: 0.0005 };
const known: BusProfile = { loads, battery, pathResistanceOhm: path };

/** A light of 8 A on 12.5 mOhm, read by a clamp that shows `times` as much. */
function light(times: number): EstimatedDip {
  return {
    id: "light",
    responded: true,
    depth: { value: 0.1, u: 0.001 },
    busV: { value: 25, u: 0.001 },
    measuredA: { value: 8 * times, u: 0.02 * times },
  };
}

const source = (times: number) => sourceResistance([light(times)], null);

describe("resistanceDoubt()", () => {
  it("doubts a resistance a tenth, 1.7 or ten times of the profile's, not one a third beside it", () => {
    for (const times of [0.1, 0.6, 10]) {
      expect(resistanceDoubt(source(times), known), `${times}`).toMatchObject({
        foundOhm: expect.closeTo(0.0125 / times, 9),
        knownOhm: 0.0125,
        uKnownOhm: expect.closeTo(Math.hypot(0.0015, 0.0005), 12),
      });
    }
    for (const times of [0.7, 1, 1.4]) expect(resistanceDoubt(source(times), known), `${times}`).toBeNull();
  });

  it("of battery or path alone doubts only what lies below it", () => {
    for (const part of [{ battery }, { pathResistanceOhm: path }]) {
      expect(resistanceDoubt(source(0.1), { loads, ...part })).toBeNull();
      expect(resistanceDoubt(source(10), { loads, ...part })).not.toBeNull();
    }
    expect(resistanceDoubt(source(10), { loads })).toBeNull();
    expect(resistanceDoubt(source(10), null)).toBeNull();
  });

  it("doubts no resistance that is the profile's own, or that is not known", () => {
    expect(resistanceDoubt(sourceResistance([], known), known)).toBeNull();
    expect(resistanceDoubt(sourceResistance([], null), known)).toBeNull();
    const own = sourceResistance([], known);
    if (!own.known) throw new Error(own.reason);
    // Not even where it were another profile's, ten times as large.
    expect(resistanceDoubt({ ...own, resistanceOhm: 10 * own.resistanceOhm }, known)).toBeNull();
  });
});

describe("lowestResistanceOhm()", () => {
  it("is two standard uncertainties below what was found, where nothing doubts it", () => {
    const found = source(1);
    if (!found.known) throw new Error(found.reason);
    expect(lowestResistanceOhm(found, known, [light(1)])).toBeCloseTo(found.resistanceOhm - 2 * found.uOhm, 12);
  });

  it("is the profile's where that doubts a larger one", () => {
    // 12.5 mOhm less 1.96 times the root of 1.5 and 0.5 squared, of which 4 % come within a second.
    const lowestOhm = 0.96 * (0.0125 - 1.96 * Math.hypot(0.0015, 0.0005));
    expect(lowestResistanceOhm(source(0.1), known, [])).toBeCloseTo(lowestOhm, 12);
  });

  it("without a profile's is that of the highest acceptable current, where the measured one is too small", () => {
    // (100 - 2) mV over 10 A; the clamp's would be 125 mOhm.
    expect(lowestResistanceOhm(source(0.1), { loads }, [light(0.1)])).toBeCloseTo(0.0098, 12);
    expect(lowestResistanceOhm(source(0.1), { loads }, [{ ...light(0.1), responded: false }])).toBeGreaterThan(0.1);
  });

  it("is the profile's where the recording gives none, told for a second after a step", () => {
    const none = sourceResistance([], null);
    const lowestOhm = 0.96 * (0.0125 - 1.96 * Math.hypot(0.0015, 0.0005));
    expect(lowestResistanceOhm(none, known, [])).toBeCloseTo(lowestOhm, 12);
    const told = sourceResistance([], known);
    if (!told.known) throw new Error(told.reason);
    expect(lowestResistanceOhm(told, known, [])).toBeCloseTo(0.96 * (told.resistanceOhm - 2 * told.uOhm), 12);
    expect(lowestResistanceOhm(none, null, [])).toBeNull();
  });
});
