import { describe, expect, it } from "vitest";
import { enduranceOutlook } from "../../../src/core/plan/endurance-outlook.js";
import type { BusProfile, LoadProfile } from "../../../src/core/profile.js";

const rated = (id: string, currentA: number, toleranceFraction = 0.1): LoadProfile => ({
  id,
  kind: "constant-current",
  reference: false,
  rated: { currentA, toleranceFraction },
});
const profile: BusProfile = {
  battery: { chemistry: "lead-acid", capacityAh: 40, cells: 12 },
  requiredEnduranceMin: 30,
  loads: [rated("small", 5), rated("large", 15)],
};

describe("enduranceOutlook()", () => {
  it("hands on voltage, whole current, required time and temperature", () => {
    const temperatureC = { value: -10, u: 2 };
    const outlook = enduranceOutlook(profile, { temperatureC });
    // Lead-acid 1.95 to 2.17 V a cell.
    expect(outlook.busV.value).toBeCloseTo(12 * 2.06, 12);
    expect(outlook.current!.value).toBe(20);
    expect(outlook).toMatchObject({ requiredMin: 30, temperatureC, unrated: [] });
    const plain = enduranceOutlook({ ...profile, requiredEnduranceMin: 1e6 });
    expect(plain.temperatureC).toBeNull();
    if (!plain.all.known || !outlook.all.known) throw new Error("known");
    expect(plain.all.minutes).toBeGreaterThan(outlook.all.minutes);
    expect(plain.all.meets).toBe(false);
    const { requiredEnduranceMin: _, ...free } = profile;
    expect(enduranceOutlook(free)).toMatchObject({ requiredMin: null, all: { meets: null } });
  });

  it("adds the profile's base current to the loads", () => {
    const { current, all } = enduranceOutlook({ ...profile, busCurrentA: { value: 10, u: 1 } });
    expect(current).toMatchObject({ value: 30, baseMeasured: true });
    if (!all.known) throw new Error("known");
    const alone = enduranceOutlook(profile).all;
    if (!alone.known) throw new Error("known");
    expect(alone.minutes / all.minutes).toBeCloseTo(1.5 ** 1.15, 9);
  });

  it("names the loads without a rating", () => {
    const bare: LoadProfile = { id: "bare", kind: "heater", reference: false };
    const outlook = enduranceOutlook({ ...profile, loads: [...profile.loads, bare] });
    expect(outlook.unrated).toEqual([bare]);
    expect(outlook.current).toBeNull();
    expect(outlook.sheds).toEqual([]);
  });

  it("tells what shedding one load buys, with first-order uncertainty: exponent, endurance and the load's own current", () => {
    const { sheds, all } = enduranceOutlook(profile);
    if (!all.known) throw new Error("known");
    const [large, small] = sheds;
    expect([large!.load.id, small!.load.id]).toEqual(["large", "small"]);
    expect(small!.currentA.value).toBe(5);
    expect(small!.currentA.u).toBeCloseTo(0.5 / Math.sqrt(3), 12);
    // Peukert 1.15 +/- 0.05: t x (20 / 15)^1.15.
    const minutes = all.minutes * (20 / 15) ** 1.15;
    expect(small!.minutes!).toBeCloseTo(minutes, 9);
    const gain = minutes - all.minutes;
    expect(small!.gain!.value).toBeCloseTo(gain, 9);
    const byExponent = minutes * Math.log(20 / 15) * 0.05;
    const byCurrent = (1.15 * minutes * (0.5 / Math.sqrt(3))) / 15;
    expect(small!.gain!.u).toBeCloseTo(Math.hypot((gain * all.uMin) / all.minutes, byExponent, byCurrent), 9);
  });

  it("gives no minutes without the load that is nearly all of the current, and puts it first", () => {
    const { sheds } = enduranceOutlook({ ...profile, loads: [rated("rest", 0.3), rated("all", 19.7)] });
    expect(sheds[0]).toEqual({ load: rated("all", 19.7), currentA: sheds[0]!.currentA, minutes: null, gain: null });
    const enough = enduranceOutlook({ ...profile, loads: [rated("rest", 0.5), rated("all", 19.5)] });
    expect(enough.sheds[0]!.minutes).not.toBeNull();
  });
});
