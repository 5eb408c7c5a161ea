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
