import { describe, expect, it } from "vitest";
import { analyze, type BusProfile, type LoadProfile } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { inrushFromReadings, rankLoads } from "../../../src/core/verdict/load-ranking.js";

const loads: readonly LoadProfile[] = [
  { id: "heat", kind: "heater", reference: false, rated: { currentA: 5.5, toleranceFraction: 0.1 } },
  { id: "lamp", kind: "resistive", reference: false, rated: { currentA: 5.2, toleranceFraction: 0.1 } },
  { id: "pump", kind: "constant-power", reference: false, rated: { currentA: 8, toleranceFraction: 0.1 } },
];
const resistance = { value: 0.02, u: 0.001 };

/** Dips of a load drawn from the profile or, one in ten, of one that it does not name: any size, either shape. */
function drawn(random: ReturnType<typeof randomGenerator>) {
  const named = random.uniform() < 0.9;
  const truth = loads[Math.floor(random.uniform() * 3)]!;
  const heats = named ? truth.kind === "heater" : random.uniform() < 0.5;
  const ohm = resistance.value + resistance.u * random.normal();
  const ratedA = "currentA" in truth.rated! ? truth.rated.currentA : 0;
  const namedV = ratedA * (1 + (0.1 / Math.sqrt(3)) * random.normal()) * ohm;
  const depthV = named ? namedV : 0.005 * (1 / 0.005) ** random.uniform();
  const uV = 0.004;
  const inrush = (heats ? 0.6 + 0.35 * random.normal() : 0.1 * random.normal()) + 0.15 * random.normal();
  const dips = { depth: { value: depthV + uV * random.normal(), u: uV }, busV: 24, inrush: { value: inrush, u: 0.15 } };
  return { dips, made: named ? truth.id : null };
}

describe("rankLoads()", () => {
  it("is calibrated: of the loads given a probability, that share made the dips", () => {
    const random = randomGenerator(11);
    const bins = Array.from({ length: 5 }, () => ({ count: 0, sum: 0, right: 0 }));
    for (let k = 0; k < 6000; k++) {
      const { dips, made } = drawn(random);
      if (dips.depth.value <= 0.005) continue;
      for (const { load, probability } of rankLoads(dips, loads, resistance)) {
        const bin = bins[Math.min(4, Math.floor(5 * probability))]!;
        bin.count += 1;
        bin.sum += probability;
        if (load === made) bin.right += 1;
      }
    }
    for (const { count, sum, right } of bins) {
      // Four standard deviations of a share.
      const slack = 4 * Math.sqrt(0.25 / Math.max(1, count)) + 0.01;
      expect(Math.abs(right / count - sum / count), `${count}`).toBeLessThan(slack);
    }
  });

  it("cannot tell two loads of one size and kind apart", () => {
    const twins = [loads[0]!, { ...loads[0]!, id: "other-heat" }];
    const ranked = rankLoads({ depth: { value: 0.11, u: 0.002 }, busV: 24, inrush: null }, twins, resistance);
    expect(ranked[0]!.probability).toBeCloseTo(ranked[1]!.probability, 9);
    expect(ranked[0]!.probability).toBeLessThan(0.5);
  });

  it("gives a dip that fits no load to none of them", () => {
    const ranked = rankLoads({ depth: { value: 0.6, u: 0.005 }, busV: 24, inrush: null }, loads, resistance);
    expect(ranked.reduce((sum, { probability }) => sum + probability, 0)).toBeLessThan(0.01);
  });

  it("says nothing of loads without a current", () => {
    const bare = [{ id: "a", kind: "heater" as const, reference: false }];
    expect(rankLoads({ depth: { value: 0.1, u: 0.01 }, busV: 24, inrush: null }, bare, resistance)).toEqual([]);
  });
});

describe("inrushFromReadings()", () => {
  it("takes the fit's own prior of 0.5 with 0.4 out again", () => {
    // Normal prior times normal likelihood, precisions add, means weigh by precision.
    const precision = 0.4 ** -2 + 0.2 ** -2;
    const posterior = { value: (0.5 / 0.4 ** 2 + 0.1 / 0.2 ** 2) / precision, u: precision ** -0.5 };
    const told = inrushFromReadings(posterior)!;
    expect(told.value).toBeCloseTo(0.1, 9);
    expect(told.u).toBeCloseTo(0.2, 9);
    expect(inrushFromReadings({ value: 0.5, u: 0.4 })).toBeNull();
  });
});

describe("analyze() of dips without marks", () => {
  it("ranks the profile's loads and makes no verdict of it", () => {
    const random = randomGenerator(3);
    const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
    const on = [20, 34, 48];
    const voltagesV = timesS.map((t) => {
      const dip = on.some((onset) => t >= onset && t < onset + 6) ? 0.16 : 0;
      return 24.5 - 0.0005 * t - dip + 0.006 * random.normal();
    });
    const profile: BusProfile = {
      battery: { resistanceOhm: { value: 0.017, u: 0.0008 } },
      pathResistanceOhm: { value: 0.003, u: 0.0003 },
      loads,
    };
    const { assumptions, loads: answers } = analyze({ timesS, voltagesV }, { profile });
    const note = assumptions.find((one) => one.code === "load-ranked")!;
    expect(note.ranked[0]).toMatchObject({ load: "pump" });
    expect(note.ranked[0]!.probability).toBeGreaterThan(0.8);
    expect(answers.find(({ id }) => id === "pump")!.verdict).toBe("undecided");
  });
});
