import { describe, expect, it } from "vitest";
import { analyze, type BusProfile, type SwitchingMark } from "../../src/core/index.js";
import { randomGenerator } from "../../src/core/statistics/random.js";

const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.02, u: 0.001 } },
  pathResistanceOhm: { value: 0, u: 0.0001 },
  loads: ["a", "b"].map((id) => ({ id, kind: "resistive" as const, reference: false, acceptA: [4, 8] as const })),
};

/** Two minutes at 10 Hz with 8 mV of noise; each load pulls 0.11 V between its times. */
function judged(seed: number, pulls: readonly (readonly [number, number])[], marks: readonly SwitchingMark[]) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 1200 }, (_, i) => i / 10);
  const voltagesV = timesS.map((t) => {
    const dip = pulls.reduce((sum, [from, to]) => sum + (t >= from && t < to ? 0.11 : 0), 0);
    return 24.5 - 0.0005 * t - dip + 0.008 * random.normal();
  });
  const { loads } = analyze({ timesS, voltagesV }, { marks, profile });
  return { a: loads.find(({ id }) => id === "a")!, b: loads.find(({ id }) => id === "b")! };
}

const switched = (load: string, ...timesS: number[]) =>
  timesS.map((timeS, k): SwitchingMark => ({ timeS, load, action: k % 2 === 0 ? "on" : "off" }));

describe("analyze() of a load whose current is known", () => {
  const reference: BusProfile = {
    loads: [{ id: "a", kind: "resistive", reference: true, rated: { currentA: 10, toleranceFraction: 0.02 } }],
  };
  const sourceOf = (seed: number, ohm: number) => {
    const random = randomGenerator(seed);
    const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
    const isOn = (t: number) => (t >= 20 && t < 28) || (t >= 40 && t < 46);
    const voltagesV = timesS.map((t) => 24.5 - (isOn(t) ? 10 * ohm : 0) + 0.008 * random.normal());
    const options = { marks: switched("a", 20, 28, 40, 46), profile: reference, seed };
    const { loads, battery } = analyze({ timesS, voltagesV }, options);
    return { verdict: loads[0]!.verdict, source: battery.source };
  };

  it("has its resistance from the dip of that load, and from nothing else", () => {
    const { source } = sourceOf(1, 0.02);
    expect(Math.abs(source!.resistance.value - 0.02)).toBeLessThan(4 * source!.resistance.u);
    // Noise that makes a dip, and noise that makes a rise: a load that draws nothing responds by chance in 1 of 100.
    for (let seed = 1; seed <= 4; seed++) {
      expect(sourceOf(seed, 0)).toMatchObject({ verdict: "undecided", source: null });
    }
    // A rise is no dip, however clear it is.
    expect(sourceOf(1, -0.02).source).toBeNull();
  });
});

describe("analyze() of a check of several loads", () => {
  it("tells loads that overlap apart", () => {
    const marks = [...switched("a", 10, 30, 60, 70), ...switched("b", 20, 40, 65, 80)];
    const both = judged(
      1,
      [
        [10, 30],
        [60, 70],
        [20, 40],
        [65, 80],
      ],
      marks,
    );
    expect([both.a.verdict, both.b.verdict]).toEqual(["responded", "responded"]);
    const one = judged(
      2,
      [
        [10, 30],
        [60, 70],
      ],
      marks,
    );
    expect([one.a.verdict, one.b.verdict]).toEqual(["responded", "no response"]);
  });

  it("takes a load left on for what it shows", () => {
    const { a } = judged(
      3,
      [
        [10, 20],
        [30, 120],
      ],
      switched("a", 10, 20, 30),
    );
    expect(a.verdict).toBe("responded");
    expect(Math.abs(a.depth!.value - 0.11)).toBeLessThan(3 * a.depth!.u);
  });

  it("cannot tell two loads on one switch apart", () => {
    const marks = [...switched("a", 10, 20, 30, 40), ...switched("b", 10, 20, 30, 40)];
    const { a, b } = judged(
      6,
      [
        [10, 20],
        [30, 40],
      ],
      marks,
    );
    expect([a.verdict, b.verdict]).toEqual(["undecided", "undecided"]);
    expect([a.because, b.because]).toEqual(["load-not-told", "load-not-told"]);
  });
});

describe("analyze() of loads that nothing but a measured current tells", () => {
  const apart = {
    ...profile,
    loads: [
      { id: "heat", kind: "resistive" as const, reference: false, acceptA: [4, 7] as const },
      { id: "lamp", kind: "resistive" as const, reference: false, acceptA: [9, 11] as const },
    ],
  };
  /** The lamp draws 10 A through 20 mOhm, by a clamp that reads `share` of it; the heat draws nothing. */
  const verdicts = (share: number) => {
    const random = randomGenerator(5);
    const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
    const isOn = (t: number) => (t >= 20 && t < 28) || (t >= 40 && t < 46) || (t >= 60 && t < 67);
    const voltagesV = timesS.map((t) => 24.5 - (isOn(t) ? 0.2 : 0) + 0.008 * random.normal());
    const currentsA = timesS.map((t) => share * (5 + (isOn(t) ? 10 : 0)) + 0.05 * random.normal());
    const { loads, warnings } = analyze({ timesS, voltagesV, current: { timesS, currentsA } }, { profile: apart });
    return { heat: loads.find(({ id }) => id === "heat")!, lamp: loads.find(({ id }) => id === "lamp")!, warnings };
  };

  it("does not take a lamp for a dead heat by a clamp that reads six tenths", () => {
    const right = verdicts(1);
    expect([right.lamp.verdict, right.heat.verdict]).toEqual(["responded", "undecided"]);
    const { heat, lamp, warnings } = verdicts(0.6);
    expect(warnings.map(({ code }) => code)).toContain("resistance-contradicted");
    expect([heat.verdict, lamp.verdict]).toEqual(["undecided", "undecided"]);
    expect(heat.because).toBe("load-not-told");
  });
});

describe("analyze() of loads on one switch", () => {
  const shared = {
    ...profile,
    loads: [
      { id: "a", kind: "resistive" as const, reference: false, acceptA: [4, 5] as const, switch: "S" },
      { id: "b", kind: "resistive" as const, reference: false, acceptA: [10, 12] as const, switch: "S" },
    ],
  };
  /** The dip that so many amperes make through 20 mOhm, marked for the first of the two loads alone. */
  const judgedAt = (seed: number, currentA: number) => {
    const random = randomGenerator(seed);
    const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
    const isOn = (t: number) => (t >= 20 && t < 28) || (t >= 40 && t < 46);
    const voltagesV = timesS.map((t) => 24.5 - (isOn(t) ? 0.02 * currentA : 0) + 0.008 * random.normal());
    return analyze({ timesS, voltagesV }, { marks: switched("a", 20, 28, 40, 46), profile: shared });
  };

  it("makes no verdict on the one that was marked, and says why", () => {
    const { loads, warnings } = judgedAt(11, 11);
    expect(loads.map(({ id, verdict, because }) => [id, verdict, because])).toEqual([
      ["a", "undecided", "load-not-told"],
      ["b", "undecided", "load-not-told"],
    ]);
    expect(warnings).toContainEqual({ code: "shared-switch", loads: ["a", "b"] });
  });

  it.each([
    [4.5, "a"],
    [11, "b"],
    [15.5, "a+b"],
  ])("ranks first, by size, those that together draw %d A: %s", (currentA, expected) => {
    const note = judgedAt(12, currentA).assumptions.find(({ code }) => code === "sharers-ranked");
    if (note?.code !== "sharers-ranked") throw new Error("not ranked");
    expect(note.ranked[0]!.loads.join("+")).toBe(expected);
  });

  it("warns of a response with less, or more, than is acceptable", () => {
    const apart = {
      ...shared,
      loads: [{ id: "a", kind: "resistive" as const, reference: false, acceptA: [4, 5] as const }],
    };
    for (const [currentA, limitA] of [
      [2, 4],
      [10, 5],
    ] as const) {
      const random = randomGenerator(13);
      const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
      const isOn = (t: number) => (t >= 20 && t < 28) || (t >= 40 && t < 46);
      const voltagesV = timesS.map((t) => 24.5 - (isOn(t) ? 0.02 * currentA : 0) + 0.008 * random.normal());
      const { loads, warnings } = analyze(
        { timesS, voltagesV },
        { marks: switched("a", 20, 28, 40, 46), profile: apart },
      );
      expect(loads[0]!.verdict).toBe("responded");
      const warning = warnings.find(({ code }) => code === "current-outside-acceptable");
      expect(warning).toMatchObject({ load: "a", limitA });
    }
  });
});
