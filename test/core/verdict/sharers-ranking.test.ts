import { describe, expect, it } from "vitest";
import type { Switching } from "../../../src/core/detection/switching.js";
import type { LoadProfile } from "../../../src/core/profile.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { rankSharers } from "../../../src/core/verdict/sharers-ranking.js";
import { dipOf, judgedOf, NO_SOURCE, SOURCE } from "./judged-response.js";

const load = (id: string, currentA: number, toleranceFraction = 0.05): LoadProfile => ({
  id,
  kind: "constant-current",
  reference: false,
  rated: { currentA, toleranceFraction },
});

const switched = (profile: LoadProfile | null, twins: readonly LoadProfile[]): Switching => ({
  mode: "marked",
  loads: [{ id: "probe", name: "Probe", profile, onTimes: [], timeUncertaintyS: 0.2, twins, searched: null }],
  untouched: [],
  dischargeSign: null,
  assumptions: [],
});

const depthOf = (valueV: number) => normalQuantity(valueV, 0.002, "V", "generalized-least-squares");
const rank = (
  changed: Parameters<typeof judgedOf>[0],
  switching = switched(load("probe", 5), [load("lamp", 2)]),
  source: typeof NO_SOURCE = SOURCE,
) => rankSharers([judgedOf(changed)], switching, source, 0.01);

describe("rankSharers()", () => {
  it.each([
    [0.1, ["probe"]],
    [0.04, ["lamp"]],
    [0.14, ["probe", "lamp"]],
  ] as const)("a dip of %d V over 20 mOhm is that of %j", (depthV, loads) => {
    const [note] = rank({ depth: depthOf(depthV) });
    expect(note).toMatchObject({ code: "sharers-ranked", load: "probe" });
    const { ranked } = note as Extract<typeof note, { code: "sharers-ranked" }>;
    expect(ranked).toHaveLength(3);
    expect(ranked[0]!.loads).toEqual(loads);
    expect(ranked[0]!.probability).toBeGreaterThan(0.9);
  });

  it("adds the tolerances of loads that are on together in quadrature", () => {
    // 5 A +/- 20 % and 2 A +/- 20 %, rectangular; together 7 A +/- sqrt(1^2 + 0.4^2) / sqrt 3.
    const rated = (id: string, currentA: number) => load(id, currentA, 0.2);
    const [note] = rank({ depth: depthOf(0.14) }, switched(rated("probe", 5), [rated("lamp", 2)]));
    const { ranked } = note as Extract<typeof note, { code: "sharers-ranked" }>;
    const normal = (x: number, sd: number) => Math.exp(-0.5 * (x / sd) ** 2) / (sd * Math.sqrt(2 * Math.PI));
    const score = (currentA: number, uA: number) =>
      0.3 * normal(0.14 - currentA * 0.02, Math.hypot(uA * 0.02, currentA * 0.0004, 0.002));
    const third = Math.sqrt(3);
    const [one, two, both] = [score(5, 1 / third), score(2, 0.4 / third), score(7, Math.hypot(1, 0.4) / third)];
    const unnamed = 0.1 / (0.14 * Math.log(1 / 0.005));
    expect(ranked[0]!.probability).toBeCloseTo(both / (one + two + both + unnamed), 9);
  });

  it("tells up to four loads apart and no more", () => {
    const twins = (count: number) => Array.from({ length: count }, (_, k) => load(`l${k}`, 2 ** k));
    const [note] = rank({}, switched(load("probe", 8), twins(3)));
    expect((note as Extract<typeof note, { code: "sharers-ranked" }>).ranked).toHaveLength(15);
    expect(rank({}, switched(load("probe", 16), twins(4)))).toEqual([]);
  });

  it("reckons a constant-power load at the level before the dips", () => {
    const pump: LoadProfile = { id: "pump", kind: "constant-power", reference: false, rated: { powerW: 120, atV: 24 } };
    // 120 W at 20 V is 6 A, 0.12 V over 20 mOhm; at 24 V it is 5 A.
    const [note] = rank(
      { depth: depthOf(0.12), dips: [dipOf({ referenceV: 20 })] },
      switched(pump, [load("lamp", 12)]),
    );
    const { ranked } = note as Extract<typeof note, { code: "sharers-ranked" }>;
    expect(ranked[0]!.loads).toEqual(["pump"]);
    expect(ranked[0]!.probability).toBeGreaterThan(0.9);
  });

  it("says nothing where a current or the resistance is not known, where no switch is shared or nothing responded", () => {
    const bare: LoadProfile = { id: "lamp", kind: "resistive", reference: false };
    expect(rank({}, switched(load("probe", 5), [bare]))).toEqual([]);
    expect(rank({}, switched(load("probe", 5), [load("lamp", 2)]), NO_SOURCE)).toEqual([]);
    expect(rank({}, switched(load("probe", 5), []))).toEqual([]);
    expect(rank({}, switched(null, [load("lamp", 2)]))).toEqual([]);
    expect(rank({}, { ...switched(null, []), loads: [] })).toEqual([]);
    expect(rank({ pValue: 0.01 })).toHaveLength(1);
    expect(rank({ pValue: 0.0101 })).toEqual([]);
    expect(rank({ depth: depthOf(0) })).toEqual([]);
    expect(rank({ depth: depthOf(-0.1) })).toEqual([]);
  });
});
