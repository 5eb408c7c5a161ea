import { describe, expect, it } from "vitest";
import { polarization } from "../../../src/core/battery/polarization.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** Each in the middle between two readings, where the current's step is taken to be. */
const ON = [20.113, 65.513, 110.313];
const ON_S = 20;

/** 12 A for 20 s three times over 20 mOhm and a pair of 10 mOhm with `tauS`: the textbook sum of exponentials. */
function recorded({ tauS = 4, sign = 1, sigmaV = 0.002, rateHz = 5, seed = 1, on = ON } = {}) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 150 * rateHz }, (_, i) => i / rateHz + 0.013);
  const since = (t: number, at: number) => (t < at ? 0 : 1 - Math.exp(-(t - at) / tauS));
  const isOn = (t: number) => on.some((onS) => t >= onS && t < onS + ON_S);
  const voltagesV = timesS.map((t) => {
    const polar = on.reduce((sum, onS) => sum + since(t, onS) - since(t, onS + ON_S), 0);
    return 25 - (isOn(t) ? 0.24 : 0) - 0.12 * polar + sigmaV * random.normal();
  });
  const currentsA = timesS.map((t) => sign * (3 + (isOn(t) ? 12 : 0)) + 0.01 * random.normal());
  return { timesS, voltagesV, current: { timesS, currentsA } };
}
const meter = { lagS: 0.001 };
const random = () => randomGenerator(7);

describe("polarization()", () => {
  it.each([1, -1] as const)("finds both parts and the time constant, whichever sign discharge has: %d", (sign) => {
    const found = polarization(recorded({ sign }), meter, sign, random());
    if (found === null || !found.known) throw new Error("known");
    const { ohmic, pairs } = found.model;
    expect(pairs).toHaveLength(1);
    const { resistance, timeConstant } = pairs[0]!;
    for (const [told, truth] of [
      [ohmic, 0.02],
      [resistance, 0.01],
      [timeConstant, 4],
    ] as const) {
      expect(Math.abs(told.value - truth)).toBeLessThan(3 * told.u);
      expect(told.u).toBeLessThan(0.2 * truth);
      expect(told.route).toBe("measured-current");
    }
    expect([ohmic.unit, resistance.unit, timeConstant.unit]).toEqual(["Ohm", "Ohm", "s"]);
  });

  it("counts that a step may have come anywhere between two readings", () => {
    // All steps a tenth of a second before the middle: the ohmic part takes over what the pair rises in that time.
    const early = polarization(recorded({ on: ON.map((onS) => onS - 0.09), sigmaV: 0.0003 }), meter, 1, random());
    const middle = polarization(recorded({ sigmaV: 0.0003 }), meter, 1, random());
    if (!early?.known || !middle?.known) throw new Error("known");
    const moved = early.model.ohmic.value - middle.model.ohmic.value;
    expect(Math.abs(moved)).toBeGreaterThan(0.8 * (0.01 / 4) * 0.09);
    // Six steps, each rectangular over 0.2 s: 0.2 / sqrt 12 / sqrt 6 of a second, at 10 mOhm in 4 s.
    const byTime = ((0.2 / Math.sqrt(12) / Math.sqrt(6)) * 0.01) / 4;
    for (const { u } of [middle.model.ohmic, middle.model.pairs[0]!.resistance]) {
      expect(u).toBeGreaterThan(byTime * 0.98);
      expect(u).toBeLessThan(byTime * 1.2);
    }
  });

  it("gives a time constant the interval of a logarithm: as many times above as below", () => {
    const found = polarization(recorded({ sigmaV: 0.06, seed: 2 }), meter, 1, random());
    if (found === null || !found.known) throw new Error("known");
    const { value, low, high, u } = found.model.pairs[0]!.timeConstant;
    // Known to about a fifth: not so well that the plain interval would do, not so badly that it tells nothing.
    expect(u / value).toBeGreaterThan(0.1);
    expect(u / value).toBeLessThan(0.4);
    expect(high / value / (value / low)).toBeGreaterThan(0.95);
    expect(high / value / (value / low)).toBeLessThan(1.05);
    // 95 % of a log-normal with this u: by its definition.
    const sd = Math.sqrt(Math.log((1 + Math.sqrt(1 + 4 * (u / value) ** 2)) / 2));
    expect(Math.log(high / low) / (2 * 1.96 * sd)).toBeCloseTo(1, 1);
  });

  it("is nothing without a measured current, and has its reason without a step, a sign or enough readings", () => {
    const { timesS, voltagesV, current } = recorded();
    expect(polarization({ timesS, voltagesV }, meter, 1, random())).toBeNull();
    const still = { timesS, currentsA: timesS.map(() => 3) };
    const unknown = (why: string) => ({ known: false, why });
    expect(polarization({ timesS, voltagesV, current: still }, meter, 1, random())).toEqual(unknown("no-current-step"));
    expect(polarization(recorded(), meter, null, random())).toEqual(unknown("no-current-step"));
    const sparse = timesS.filter((_, i) => i % 70 === 0);
    const few = { timesS: sparse, voltagesV: sparse.map(() => 25), current };
    expect(polarization(few, meter, 1, random())).toEqual(unknown("sampled-too-slowly"));
  });

  it("says when the pair is too slow or too faint for the dips", () => {
    expect(polarization(recorded({ tauS: 4000 }), meter, 1, random())).toMatchObject({ known: false });
    const slow = polarization(recorded({ tauS: 300, sigmaV: 0.0005 }), meter, 1, random());
    expect(slow).toMatchObject({ known: false, why: "polarization-too-slow" });
  });

  it("of a fast log is that of its means", () => {
    // Readings every 25 ms: the steps lie anywhere between two of them.
    const found = polarization(recorded({ rateHz: 40, sigmaV: 0.005 }), meter, 1, random());
    if (found === null || !found.known) throw new Error("known");
    const { timeConstant } = found.model.pairs[0]!;
    expect(Math.abs(timeConstant.value - 4)).toBeLessThan(3 * timeConstant.u);
  });
});
