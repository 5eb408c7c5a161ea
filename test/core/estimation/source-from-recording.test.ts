import { describe, expect, it } from "vitest";
import {
  type EstimatedDip,
  lowestProfileResistanceOhm,
  sourceResistance,
} from "../../../src/core/estimation/source-from-recording.js";
import type { BusProfile } from "../../../src/core/profile.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const profile: BusProfile = {
  loads: [
    { id: "lamp", kind: "constant-current", rated: { currentA: 9, toleranceFraction: 0.05 }, reference: true },
    { id: "pump", kind: "constant-current", rated: { currentA: 6, toleranceFraction: 0.05 }, reference: true },
  ],
};

const dip = (id: string, value: number, u = 0.003, measuredA: EstimatedDip["measuredA"] = null): EstimatedDip => ({
  id,
  responded: true,
  depth: { value, u },
  busV: { value: 24, u },
  measuredA,
});

function known(dips: readonly EstimatedDip[], with_: BusProfile | null = profile) {
  const source = sourceResistance(dips, with_);
  if (!source.known) throw new Error(source.reason);
  return source;
}

describe("sourceResistance()", () => {
  it("of one reference is its depth over its rated current", () => {
    const source = known([dip("lamp", 0.18)]);
    expect(source.resistanceOhm).toBeCloseTo(0.02, 12);
    // 5 % rectangular, and 3 mV of 180 mV.
    expect(source.uOhm).toBeCloseTo(0.02 * Math.hypot(0.05 / Math.sqrt(3), 1 / 60), 9);
    expect(source.load).toBe("lamp");
  });

  it("of two references that tell equally much is surer by the root of two, and brings their currents together", () => {
    const one = known([dip("lamp", 0.18, 0.0001)]);
    const both = known([dip("lamp", 0.18, 0.0001), dip("pump", 0.12, 0.0001)]);
    expect(both.resistanceOhm).toBeCloseTo(0.02, 9);
    expect(both.uOhm / one.uOhm).toBeCloseTo(Math.SQRT1_2, 3);
    expect(both.currents.map(({ load }) => load)).toEqual(["lamp", "pump"]);
    expect(both.currents[0].currentA.u / one.current!.u).toBeCloseTo(Math.SQRT1_2, 2);
    expect(both.tolerances.length).toBe(2);
  });

  it("covers the truth in 95 % of 2000 draws with two references (93.5 to 96.5 %: three deviations)", () => {
    const random = randomGenerator(31);
    let covered = 0;
    for (let k = 0; k < 2000; k++) {
      // The true currents lie anywhere within the tolerance of the rating.
      const actual = [9, 6].map((rated) => rated * (1 + 0.05 * (2 * random.uniform() - 1)));
      const { resistanceOhm, uOhm } = known([
        dip("lamp", 0.02 * actual[0] + 0.004 * random.normal(), 0.004),
        dip("pump", 0.02 * actual[1] + 0.004 * random.normal(), 0.004),
      ]);
      if (Math.abs(resistanceOhm - 0.02) < 1.96 * uOhm) covered += 1;
    }
    expect(covered / 2000).toBeGreaterThan(0.935);
    expect(covered / 2000).toBeLessThan(0.965);
  });

  it("widens where two references contradict each other", () => {
    const agree = known([dip("lamp", 0.18, 0.0001), dip("pump", 0.12, 0.0001)]);
    const differ = known([dip("lamp", 0.18, 0.0001), dip("pump", 0.18, 0.0001)]);
    expect(differ.uOhm / differ.resistanceOhm).toBeGreaterThan(3 * (agree.uOhm / agree.resistanceOhm));
  });

  it("never gets surer than the gain of the clamp, however many loads were measured", () => {
    const dips = Array.from({ length: 8 }, (_, k) => dip(`load ${k}`, 0.2, 0.0002, { value: 10, u: 0.1001 }));
    const source = known(dips, null);
    expect(source.resistanceOhm).toBeCloseTo(0.02, 9);
    expect(source.uOhm / source.resistanceOhm).toBeGreaterThan(0.01);
    expect(source.uOhm / source.resistanceOhm).toBeLessThan(0.0105);
    const variance = source.rows.reduce((sum, { sensitivity, u }) => sum + (sensitivity * u) ** 2, 0);
    expect(Math.sqrt(variance) / source.uOhm).toBeCloseTo(1, 9);
  });
});

describe("sourceResistance() of depths that share a gain", () => {
  it.each([
    ["references", [dip("lamp", 0.18), dip("pump", 0.12)]],
    [
      "measured currents",
      [dip("lamp", 0.18, 0.003, { value: 9, u: 0.1 }), dip("pump", 0.12, 0.003, { value: 6, u: 0.1 })],
    ],
  ] as const)("is never surer than that gain, however many %s gave it", (_, dips) => {
    const plain = known(dips);
    const source = sourceResistance(dips, profile, 0.2);
    if (!source.known) throw new Error(source.reason);
    expect(source.resistanceOhm).toBe(plain.resistanceOhm);
    expect(source.uOhm).toBeCloseTo(Math.hypot(plain.uOhm, 0.2 * plain.resistanceOhm), 12);
    const drawn = Array.from({ length: 4000 }, (_, seed) => source.draw(randomGenerator(seed + 1)));
    const mean = drawn.reduce((sum, ohm) => sum + ohm / drawn.length, 0);
    const sd = Math.sqrt(drawn.reduce((sum, ohm) => sum + (ohm - mean) ** 2 / drawn.length, 0));
    // Three deviations of a standard deviation from 4000 draws: 3.4 %.
    expect(Math.abs(sd / source.uOhm - 1)).toBeLessThan(0.034 + 0.02);
  });

  it("does not touch the profile's resistance", () => {
    const whole: BusProfile = {
      battery: { resistanceOhm: { value: 0.02, u: 0.001 } },
      pathResistanceOhm: { value: 0.001, u: 0.0001 },
      loads: [],
    };
    expect(sourceResistance([], whole, 0.2)).toMatchObject({ uOhm: Math.hypot(0.001, 0.0001) });
  });
});

describe("sourceResistance() routes", () => {
  const battery: BusProfile = {
    ...profile,
    battery: { resistanceOhm: { value: 0.012, u: 0.003 } },
    pathResistanceOhm: { value: 0.008, u: 0.004 },
  };
  const still = { uniform: () => 0.5, normal: () => 0 };
  const measured = dip("probe", 0.2, 0.004, { value: 10, u: 0.125 });

  it("takes the measured current first, the gain of the clamp apart from what is each dip's own", () => {
    const source = known([measured, dip("lamp", 0.3)], battery);
    expect(source).toMatchObject({ route: "measured-current", load: "probe", tolerances: [] });
    expect(source.resistanceOhm).toBeCloseTo(0.02, 12);
    // 2 % depth, 0.75 % of the current beside the gain's 1 %.
    expect(source.uOhm).toBeCloseTo(0.02 * Math.hypot(0.02, 0.0075, 0.01), 9);
    expect(source.rows.map(({ source: one }) => one)).toEqual(["depth", "measured-current", "measured-current"]);
    expect(source.rows[0]).toMatchObject({ value: 0.2, u: 0.004, unit: "V", sensitivity: expect.closeTo(0.1, 12) });
    expect(source.rows[1]).toMatchObject({
      value: 10,
      u: expect.closeTo(0.075, 9),
      unit: "A",
      sensitivity: expect.closeTo(-0.002, 12),
    });
    expect(source.rows[2]).toMatchObject({ value: 1, u: 0.01, unit: "1", sensitivity: expect.closeTo(-0.02, 12) });
    expect(source.current).toEqual({ value: 10, u: expect.closeTo(0.075, 9) });
    expect(source.currents).toMatchObject([{ load: "probe", currentA: { value: 10, u: 0.125 } }]);
    expect(source.draw(still)).toBeCloseTo(0.02, 12);
    expect(source.growth).toEqual({ value: 0, u: 0 });
  });

  it("only of a load that responded, with a current beyond three uncertainties and a fall", () => {
    const route = (changed: Partial<EstimatedDip>) => known([{ ...measured, ...changed }], battery).route;
    expect(route({ responded: false })).toBe("known-resistance");
    expect(route({ measuredA: { value: 10, u: 3.34 } })).toBe("known-resistance");
    expect(route({ measuredA: { value: 10, u: 3.3 } })).toBe("measured-current");
    expect(route({ depth: { value: -0.2, u: 0.01 } })).toBe("known-resistance");
    expect(route({ measuredA: null })).toBe("known-resistance");
  });

  it("then the references, then battery and path together", () => {
    expect(known([dip("lamp", 0.18)], battery)).toMatchObject({ route: "reference-load", load: "lamp" });
    const source = known([], battery);
    expect(source).toMatchObject({
      route: "known-resistance",
      load: null,
      current: null,
      currents: [],
      tolerances: [],
    });
    expect(source.resistanceOhm).toBeCloseTo(0.02, 12);
    expect(source.uOhm).toBeCloseTo(0.005, 12);
    expect(source.rows).toEqual([
      { source: "known-resistance", value: 0.012, unit: "Ohm", u: 0.003, sensitivity: 1 },
      { source: "path-resistance", value: 0.008, unit: "Ohm", u: 0.004, sensitivity: 1 },
    ]);
    expect(source.draw(still)).toBeCloseTo(0.02, 12);
  });

  it("else says why not: the reference's reason before the profile's", () => {
    const why = (dips: readonly EstimatedDip[], with_: BusProfile | null) => {
      const source = sourceResistance(dips, with_);
      return source.known ? null : source.reason;
    };
    expect(why([], null)).toBe("no-current-reference");
    expect(why([], profile)).toBe("reference-did-not-respond");
    expect(why([{ ...dip("lamp", 0.18), responded: false }], profile)).toBe("reference-did-not-respond");
    expect(why([dip("lamp", 0.01)], { loads: [profile.loads[0]!] })).toBe("reference-too-weak");
    expect(why([], { loads: [], battery: { resistanceOhm: { value: 0.01, u: 0 } } })).toBe("path-unknown");
    expect(why([], { loads: [profile.loads[0]!].map((load) => ({ ...load, reference: false })) })).toBe(
      "no-current-reference",
    );
  });

  it("carries the growth that the dips show, of several weighed by how sure they are", () => {
    const grown = (id: string, value: number, u: number, growth: number) => ({
      ...dip(id, value, u),
      growth: { value: growth, u: 0.35 * growth },
    });
    expect(known([grown("lamp", 0.18, 0.003, 0.05)]).growth).toEqual({ value: 0.05, u: 0.35 * 0.05 });
    const [one, other] = [grown("lamp", 0.18, 0.0018, 0.04), grown("pump", 0.12, 0.012, 0.1)];
    const both = known([one, other]);
    // Relative variances: rating 5 % / sqrt 3 with 1 %, and with 10 %.
    const weights = [0.01, 0.1].map((share) => 1 / ((0.05 / Math.sqrt(3)) ** 2 + share ** 2));
    const total = weights[0]! + weights[1]!;
    expect(both.growth.value).toBeCloseTo((0.04 * weights[0]! + 0.1 * weights[1]!) / total, 9);
    expect(both.growth.u).toBeCloseTo(0.35 * both.growth.value, 9);
    expect(both).toMatchObject({ load: null, current: null, route: "reference-load" });
    expect(both.draw(still)).toBeCloseTo(both.resistanceOhm, 9);
    const variance = both.rows.reduce((sum, { sensitivity, u }) => sum + (sensitivity * u) ** 2, 0);
    expect(both.uOhm).toBeCloseTo(Math.sqrt(variance), 12);
  });
});

describe("sourceResistance() of references that are known too badly to be joined", () => {
  it("takes the surest of them alone, whichever is named first", () => {
    const [lamp, pump] = [
      { id: "lamp", kind: "constant-current", rated: { currentA: 9, toleranceFraction: 0.9 }, reference: true },
      { id: "pump", kind: "constant-current", rated: { currentA: 6, toleranceFraction: 0.8 }, reference: true },
    ] as const;
    for (const loads of [
      [lamp, pump],
      [pump, lamp],
    ]) {
      const source = known([dip("lamp", 0.18), dip("pump", 0.12)], { loads });
      expect(source).toMatchObject({ load: "pump", route: "reference-load" });
      expect(source.uOhm / source.resistanceOhm).toBeCloseTo(Math.hypot(0.8 / Math.sqrt(3), 0.003 / 0.12), 9);
    }
  });
});

describe("sourceResistance() draws", () => {
  const battery: BusProfile = {
    loads: [],
    battery: { resistanceOhm: { value: 0.012, u: 0.0003 } },
    pathResistanceOhm: { value: 0.008, u: 0.0004 },
  };
  const spreadOf = (draw: (random: ReturnType<typeof randomGenerator>) => number) => {
    const random = randomGenerator(17);
    const drawn = Array.from({ length: 20_000 }, () => draw(random));
    const mean = drawn.reduce((sum, value) => sum + value, 0) / drawn.length;
    return { mean, sd: Math.sqrt(drawn.reduce((sum, value) => sum + (value - mean) ** 2, 0) / drawn.length) };
  };

  // Inputs known to a few percent: the first order holds. 20,000 draws tell a standard deviation to 0.5 %.
  it.each([
    ["a measured current", [dip("probe", 0.2, 0.004, { value: 10, u: 0.125 })], null],
    ["a measured current surer than its clamp", [dip("probe", 0.2, 0.0001, { value: 10, u: 0.05 })], null],
    [
      "two measured currents",
      [dip("probe", 0.2, 0.004, { value: 10, u: 0.2 }), dip("lamp", 0.1, 0.003, { value: 5, u: 0.08 })],
      null,
    ],
    ["a reference", [dip("lamp", 0.18)], profile],
    ["two references", [dip("lamp", 0.18), dip("pump", 0.121)], profile],
    ["two references that differ", [dip("lamp", 0.18), dip("pump", 0.14)], profile],
    ["battery and path", [], battery],
  ] as const)("scatter as the resistance and each current is uncertain: %s", (_, dips, with_) => {
    const source = known(dips, with_);
    const resistance = spreadOf(source.draw);
    expect(Math.abs(resistance.mean / source.resistanceOhm - 1)).toBeLessThan(0.01);
    expect(Math.abs(resistance.sd / source.uOhm - 1)).toBeLessThan(0.03);
    for (const { currentA, drawA } of source.currents) {
      const current = spreadOf(drawA);
      expect(Math.abs(current.mean / currentA.value - 1)).toBeLessThan(0.01);
      expect(Math.abs(current.sd / currentA.u - 1)).toBeLessThan(0.03);
    }
  });

  it("of two dips alike go the way of those of one of them, by as much", () => {
    /** Drawn over stated where each input lies so many standard uncertainties above its value. */
    const ratio = (above: number, dips: readonly EstimatedDip[]) => {
      const { draw, resistanceOhm } = known(dips, null);
      return draw({ ...randomGenerator(1), normal: () => above }) / resistanceOhm;
    };
    const measured = [dip("probe", 0.2, 0.04, { value: 10, u: 0.2 }), dip("lamp", 0.1, 0.02, { value: 5, u: 0.1 })];
    for (const above of [-1, 0, 1, 2]) {
      const alone = ratio(above, measured.slice(0, 1));
      expect(ratio(above, measured)).toBeCloseTo(alone, 9);
      expect(Math.sign(alone - 1)).toBe(Math.sign(above));
      const own = known([], battery);
      const drawn = own.draw({ ...randomGenerator(1), normal: () => above });
      expect(drawn).toBeCloseTo(0.02 + above * (0.0003 + 0.0004), 12);
    }
  });

  it("widen with the root of chi-square over its freedom where two references differ", () => {
    const uDepth = 0.003;
    const of = (pumpV: number) => known([dip("lamp", 0.18, uDepth), dip("pump", pumpV, uDepth)]);
    const differ = of(0.15);
    const variances = [uDepth / 0.18, uDepth / 0.15].map((share) => share ** 2 + (0.05 / Math.sqrt(3)) ** 2);
    // Relative: 20 and 25 mOhm about their mean; one degree of freedom, first order in what they differ.
    const z = Math.log(0.025 / 0.02) / Math.sqrt(variances[0]! + variances[1]!);
    const plain = 1 / Math.sqrt(1 / variances[0]! + 1 / variances[1]!);
    expect(differ.uOhm / differ.resistanceOhm / (z * plain)).toBeCloseTo(1, 0.9);
    expect(of(0.122).uOhm / of(0.122).resistanceOhm / plain).toBeCloseTo(1, 1);
  });
});

describe("lowestProfileResistanceOhm()", () => {
  it("is 1.96 standard uncertainties below battery and path; the battery alone without a path; null for nothing", () => {
    const battery = { resistanceOhm: { value: 0.02, u: 0.003 } };
    const path = { value: 0.005, u: 0.004 };
    expect(lowestProfileResistanceOhm({ loads: [], battery, pathResistanceOhm: path })).toBeCloseTo(
      0.025 - 1.96 * 0.005,
      12,
    );
    expect(lowestProfileResistanceOhm({ loads: [], battery })).toBeCloseTo(0.02 - 1.96 * 0.003, 12);
    expect(
      lowestProfileResistanceOhm({ loads: [], battery: { resistanceOhm: { value: 0.005, u: 0.003 } } }),
    ).toBeNull();
    expect(lowestProfileResistanceOhm({ loads: [] })).toBeNull();
    expect(lowestProfileResistanceOhm(null)).toBeNull();
  });
});
