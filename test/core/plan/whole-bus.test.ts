import { describe, expect, it } from "vitest";
import {
  type Analysis,
  type BusProfile,
  enduranceOutlook,
  type LoadAnswer,
  type Tick,
  wholeBus,
} from "../../../src/core/index.js";

const answer = (id: string, verdict: LoadAnswer["verdict"], switchingCount = 3): LoadAnswer =>
  ({
    id,
    name: id,
    verdict,
    switchingCount,
    because: switchingCount === 0 ? "never-switched" : "above-critical",
  }) as LoadAnswer;
const tick = (load: string, found: Tick["found"]): Tick => ({ load, found, when: null, by: null, note: null });
const profile: BusProfile = {
  loads: ["heat", "lamp", "fan", "horn", "pump"].map((id) => ({ id, kind: "resistive", reference: false })),
};

describe("wholeBus()", () => {
  it("wholeBus() accounts for every load and for what else answered, none twice", () => {
    const analysis = {
      loads: [
        answer("heat", "responded"),
        answer("lamp", "no response"),
        answer("pump", "undecided"),
        answer("fan", "undecided", 0),
        answer("other", "responded"),
      ],
    } as unknown as Analysis;
    const bus = wholeBus(profile, analysis, [tick("lamp", "seen"), tick("horn", "not")]);
    expect(bus.items.map(({ id, standing }) => [id, standing])).toEqual([
      ["heat", "answered"],
      ["lamp", "contradiction"],
      ["fan", "no-evidence"],
      ["horn", "silent"],
      ["pump", "open"],
      ["other", "answered"],
    ]);
    expect(bus.withoutEvidenceCount).toBe(1);
  });

  it("wholeBus() takes for evidence what was switched, whatever came of it", () => {
    const shown = { ...answer("heat", "undecided"), because: "shows-itself" } as LoadAnswer;
    const never = { ...answer("lamp", "undecided", 0), because: "shows-itself" } as LoadAnswer;
    const { items } = wholeBus(profile, { loads: [shown, never] } as unknown as Analysis, []);
    expect(items.slice(0, 2).map(({ standing }) => standing)).toEqual(["open", "no-evidence"]);
  });

  it("wholeBus(nothing judged, nothing ticked) leaves every load without evidence", () => {
    expect(wholeBus(profile, null, []).withoutEvidenceCount).toBe(5);
  });
});

describe("enduranceOutlook()", () => {
  const rated = (id: string, currentA: number) => ({
    id,
    kind: "constant-current" as const,
    reference: false,
    rated: { currentA },
  });
  const battery = { chemistry: "lead-acid", cells: 12, capacityAh: 40 } as const;

  it("enduranceOutlook() lists what shedding buys, most first: Peukert's law with one load less", () => {
    const outlook = enduranceOutlook({
      battery,
      requiredEnduranceMin: 30,
      loads: [rated("small", 5), rated("large", 15)],
    });
    if (!outlook.all.known) throw new Error("known");
    expect(outlook.sheds.map(({ load }) => load.id)).toEqual(["large", "small"]);
    // t ~ I^-1.15 for lead-acid (battery/endurance.ts): 20 A to 5 A.
    expect(outlook.sheds[0]!.minutes! / outlook.all.minutes).toBeCloseTo(4 ** 1.15, 9);
    expect(outlook.sheds[0]!.gain!.u).toBeGreaterThan(0);
  });

  it.each([
    ["no capacity", { battery: { chemistry: "lead-acid" }, loads: [rated("a", 5)] }, "no-capacity"],
    ["no chemistry", { battery: { capacityAh: 40 }, loads: [rated("a", 5)] }, "no-chemistry"],
    ["a load without a rating", { battery, loads: [{ id: "a", kind: "heater", reference: false }] }, "no-bus-current"],
  ] as const)("enduranceOutlook(%s) refuses with the reason", (_, bus, reason) => {
    const outlook = enduranceOutlook(bus as BusProfile);
    expect(outlook.all).toEqual({ known: false, reason });
    expect(outlook.sheds).toEqual([]);
  });
});
