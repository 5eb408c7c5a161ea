import { describe, expect, it } from "vitest";
import { analyze, type BusProfile, type LoadProfile } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import {
  expectedCurrent,
  inrushFromReadings,
  rankLoads,
  rankUntold,
  type UntoldDips,
} from "../../../src/core/verdict/load-ranking.js";
import { dipOf, judgedOf, NO_SOURCE, REFINED, RESPONSE, SOURCE } from "./judged-response.js";

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

/** Bayes' theorem written out: a tenth for what the profile does not name, the rest shared evenly over its loads. */
function posterior({ depth, inrush }: UntoldDips, ohm: { value: number; u: number }): Record<string, number> {
  const normal = (x: number, sd: number) => Math.exp(-0.5 * (x / sd) ** 2) / (sd * Math.sqrt(2 * Math.PI));
  const shape = (heats: boolean) =>
    inrush === null ? 1 : normal(inrush.value - (heats ? 0.6 : 0), Math.hypot(heats ? 0.35 : 0.1, inrush.u));
  const named = loads.map(({ id, kind, rated }) => {
    const currentA = (rated as { currentA: number }).currentA;
    const sd = Math.hypot((0.1 / Math.sqrt(3)) * currentA * ohm.value, currentA * ohm.u, depth.u);
    return [id, 0.3 * normal(depth.value - currentA * ohm.value, sd) * shape(kind === "heater")] as const;
  });
  const even = 1 / (depth.value * Math.log(1 / 0.005));
  const total = 0.1 * even * (shape(true) / 2 + shape(false) / 2) + named.reduce((sum, [, score]) => sum + score, 0);
  return Object.fromEntries(named.map(([id, score]) => [id, score / total]));
}

describe("rankLoads() beside Bayes' theorem written out", () => {
  it.each([
    { depth: { value: 0.107, u: 0.004 }, busV: 24, inrush: { value: 0.3, u: 0.15 } },
    { depth: { value: 0.12, u: 0.01 }, busV: 24, inrush: { value: 0.7, u: 0.3 } },
    { depth: { value: 0.16, u: 0.02 }, busV: 24, inrush: null },
    { depth: { value: 0.09, u: 0.001 }, busV: 24, inrush: { value: -0.1, u: 0.05 } },
  ])("gives each load its share, the likeliest first: %j", (dips) => {
    const ranked = rankLoads(dips, loads, resistance);
    const expected = posterior(dips, resistance);
    expect(ranked).toHaveLength(3);
    for (const { load, probability } of ranked) expect(probability).toBeCloseTo(expected[load]!, 9);
    expect(ranked.map(({ probability }) => probability)).toEqual(
      Object.values(expected)
        .sort((a, b) => b - a)
        .map((p) => expect.closeTo(p, 9)),
    );
  });

  it("lets a named load keep a dip beyond those that an unnamed one is looked for at: 5 mV to 1 V", () => {
    // By Bayes' theorem as above with the even density going on beyond, 0.4 and 3 % would be an unnamed one's.
    const deep = { depth: { value: 1.6, u: 0.05 }, busV: 24, inrush: null };
    expect(rankLoads(deep, [loads[2]!], { value: 0.2, u: 0.01 })[0]!.probability).toBeGreaterThan(0.999);
    const shallow = { depth: { value: 0.004, u: 0.002 }, busV: 24, inrush: null };
    expect(rankLoads(shallow, [loads[2]!], { value: 0.0005, u: 0.00001 })[0]!.probability).toBeGreaterThan(0.999);
  });

  it("leaves out the loads without a current and shares the weight over the others", () => {
    const bare: LoadProfile = { id: "bare", kind: "resistive", reference: false };
    const dips = { depth: { value: 0.11, u: 0.004 }, busV: 24, inrush: null };
    expect(rankLoads(dips, [bare, ...loads], resistance)).toEqual(rankLoads(dips, loads, resistance));
  });
});

describe("expectedCurrent()", () => {
  const load: LoadProfile = { id: "a", kind: "resistive", reference: false };
  it("takes the rating at the bus voltage, with a rectangular tolerance of 5 % where none is told", () => {
    // 120 W at 24 V: 4.8 Ohm; at 21.6 V 4.5 A.
    const { value, u } = expectedCurrent({ ...load, rated: { powerW: 120, atV: 24 } }, 21.6)!;
    expect(value).toBeCloseTo(4.5, 12);
    expect(u).toBeCloseTo((4.5 * 0.05) / Math.sqrt(3), 12);
    const told = expectedCurrent({ ...load, rated: { currentA: 3, toleranceFraction: 0.2 }, acceptA: [8, 9] }, 24)!;
    expect(told.value).toBe(3);
    expect(told.u).toBeCloseTo(0.6 / Math.sqrt(3), 12);
  });

  it("else takes the middle of what is acceptable, width over root twelve; null where neither is told", () => {
    const { value, u } = expectedCurrent({ ...load, acceptA: [4, 7] }, 24)!;
    expect(value).toBe(5.5);
    expect(u).toBeCloseTo(3 / Math.sqrt(12), 12);
    expect(expectedCurrent(load, 24)).toBeNull();
  });
});

describe("rankUntold()", () => {
  const profile: BusProfile = { loads };
  const rank = (changed: Parameters<typeof judgedOf>[0] = {}, source: typeof NO_SOURCE = SOURCE, rate = 0.01) =>
    rankUntold([judgedOf(changed)], profile, source, rate);
  const dips = { depth: { value: 0.1, u: 0.005 }, busV: 24, inrush: null };
  const ohm = { value: 0.02, u: 0.0004 };

  it("ranks a response whose load nobody told by its depth, level and shape", () => {
    expect(rank()).toEqual([{ code: "load-ranked", load: "probe", ranked: rankLoads(dips, loads, ohm) }]);
    const inrush = inrushFromReadings({ value: 0.5, u: 0.1 })!;
    const fitted = { ...RESPONSE, refined: REFINED };
    expect(rank({ response: fitted })).toMatchObject([{ ranked: rankLoads({ ...dips, inrush }, loads, ohm) }]);
  });

  it("reckons with the level before the first dip", () => {
    const heater: LoadProfile = { id: "h", kind: "heater", reference: false, rated: { powerW: 120, atV: 24 } };
    const [ranked] = rankUntold(
      [judgedOf({ dips: [dipOf({ referenceV: 20 })] })],
      { loads: [heater, ...loads] },
      SOURCE,
      1,
    );
    expect(ranked).toMatchObject({ ranked: rankLoads({ ...dips, busV: 20 }, [heater, ...loads], ohm) });
  });

  it("says nothing of a load that is told, of what noise may have made, or of a rise", () => {
    expect(rank({ profile: loads[0]! })).toEqual([]);
    expect(rank({ pValue: 0.01 })).toHaveLength(1);
    expect(rank({ pValue: 0.0101 })).toEqual([]);
    expect(rank({ depth: { ...judgedOf().depth, value: 0 } })).toEqual([]);
    expect(rank({ depth: { ...judgedOf().depth, value: -0.1 } })).toEqual([]);
  });

  it("says nothing where no dip could be fitted on its own, so that the level is not known", () => {
    expect(rank({ dips: [] })).toEqual([]);
    const radio: LoadProfile = { id: "r", kind: "constant-power", reference: false, rated: { powerW: 120, atV: 24 } };
    expect(rankUntold([judgedOf({ dips: [] })], { loads: [radio] }, SOURCE, 1)).toEqual([]);
  });

  it("says nothing without a profile, a resistance or a current", () => {
    expect(rank({}, NO_SOURCE)).toEqual([]);
    expect(rankUntold([judgedOf()], null, SOURCE, 0.01)).toEqual([]);
    const bare: LoadProfile = { id: "bare", kind: "resistive", reference: false };
    expect(rankUntold([judgedOf()], { loads: [bare] }, SOURCE, 0.01)).toEqual([]);
  });
});

describe("inrushFromReadings()", () => {
  it("is nothing where the readings add less than a twentieth of what was known before", () => {
    // Precision 1 / 0.4^2 = 6.25 before; 6.25 x 1.04 and 6.25 x 1.06 after.
    expect(inrushFromReadings({ value: 0.5, u: (6.25 * 1.04) ** -0.5 })).toBeNull();
    expect(inrushFromReadings({ value: 0.5, u: (6.25 * 1.06) ** -0.5 })).not.toBeNull();
  });

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
