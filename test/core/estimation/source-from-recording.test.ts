import { describe, expect, it } from "vitest";
import { type EstimatedDip, sourceResistance } from "../../../src/core/estimation/source-from-recording.js";
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
