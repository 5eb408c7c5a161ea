import { describe, expect, it } from "vitest";
import { type BusProfile, type LoadProfile, planCheck, statedReadings } from "../../../src/core/index.js";
import { powersTogether } from "../../../src/core/plan/powers-together.js";
import { type Rhythm, Rhythms } from "../../../src/core/plan/rhythm.js";

const load = (id: string, lowestA: number, more: Partial<LoadProfile> = {}): LoadProfile => ({
  id,
  kind: "resistive",
  reference: false,
  acceptA: [lowestA, 20],
  ...more,
});
/** 12.5 mOhm, 11.5 mOhm at the low end. */
const bus: Omit<BusProfile, "loads"> = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0005 } },
  pathResistanceOhm: { value: 0.003, u: 0 },
  meter: { smallestDivisionV: 1, lagS: 0.25, frictionV: 0.002 },
};
const LOW_OHM = 0.0115;
const readings = statedReadings(0.05, undefined)!;

/** Chance of being found with each count in turn: the first that is enough, else the best. */
function rhythmByHand(rhythms: Rhythms, one: LoadProfile, depthV: number, share: number, power: number) {
  const limitS = one.timeLimitS ?? null;
  const tried: { readonly rhythm: Rhythm; readonly power: number }[] = [];
  for (const count of [3, 4, 5, 6, 8, 10, 12, 16]) {
    // The longest time on and off that the limit leaves room for.
    for (let cadenceS = rhythms.bestCadenceS(one.kind); cadenceS >= 2; cadenceS--) {
      const rhythm = rhythms.rhythm(one.kind, count, cadenceS, limitS);
      if (rhythm === null) continue;
      tried.push({ rhythm, power: rhythm.detection.power(depthV, share) });
      break;
    }
  }
  const enough = tried.find((each) => each.power >= power);
  return enough ?? tried.reduce((best, each) => (each.power > best.power ? each : best));
}

function needlesOf(loads: readonly LoadProfile[], conditions: { falseAlarmRate?: number; power?: number } = {}) {
  const plan = planCheck({ ...bus, loads }, { readings, ...conditions });
  return plan.items.map(({ needle }) => needle!);
}

describe("planCheck() by hand", () => {
  it.each([
    ["one load", [load("a", 8)], {}],
    ["three loads", [load("a", 8), load("b", 10, { kind: "heater" }), load("c", 5)], {}],
    ["two loads, half the power at 5 %", [load("a", 4), load("b", 5)], { falseAlarmRate: 0.05, power: 0.5 }],
    ["loads with a limit", [load("a", 9, { timeLimitS: 12 }), load("b", 9, { timeLimitS: 60 })], {}],
  ] as const)("gives each load the fewest switchings that are enough: %s", (_, loads, conditions) => {
    const { falseAlarmRate = 0.01, power = 0.95 }: { falseAlarmRate?: number; power?: number } = conditions;
    const share = falseAlarmRate / loads.length;
    // Every other load adds 45 s of readings that tell of the noise.
    const rhythms = new Rhythms(readings, bus.meter, 0.2, 45 * (loads.length - 1));
    const found = loads.map((one) => {
      // Friction may hold the needle on the way down and on the way up.
      const depthV = one.acceptA![0] * LOW_OHM - 2 * 0.002;
      return { depthV, ...rhythmByHand(rhythms, one, depthV, share, power) };
    });
    const together = powersTogether(
      found.map(
        ({ rhythm, depthV }) =>
          (rate: number) =>
            rhythm.detection.power(depthV, rate),
      ),
      falseAlarmRate,
    );
    needlesOf(loads, conditions).forEach((needle, k) => {
      const { rhythm, depthV, power: own } = found[k]!;
      expect(own, "is worth switching").toBeGreaterThan(0.5);
      const leastV = rhythm.detection.minimumDetectableV(share, power);
      expect(needle.pattern).toEqual(rhythm.pattern);
      expect(needle.minimumDetectableV).toBeCloseTo(leastV + 2 * 0.002, 12);
      expect(needle.predictedPower).toBeCloseTo(together[k]!, 12);
      expect(needle.expected.lowestV).toBeCloseTo(loads[k]!.acceptA![0] * LOW_OHM, 12);
      if (own >= power) expect(needle.obstacle).toBeNull();
      else expect(needle.obstacle).toMatchObject({ quieterBy: expect.closeTo(leastV / depthV, 9) });
    });
  });

  it("leaves a load out whose chance is below a half, and says how much quieter the readings must be", () => {
    const rhythms = new Rhythms(readings, bus.meter, 0.2, 0);
    for (const lowestA of [1, 1.5, 2, 2.5, 3, 3.5]) {
      const depthV = lowestA * LOW_OHM - 2 * 0.002;
      const { rhythm, power } = rhythmByHand(rhythms, load("a", lowestA), depthV, 0.01, 0.95);
      const [needle] = needlesOf([load("a", lowestA)]);
      expect(needle!.pattern === null, `${lowestA} A`).toBe(power < 0.5);
      expect(needle!.predictedPower === null).toBe(power < 0.5);
      const quieterBy = rhythm.detection.minimumDetectableV(0.01, 0.95) / depthV;
      if (power >= 0.95) continue;
      const { obstacle } = needle!;
      if (obstacle?.code !== "too-small") throw new Error(obstacle?.code);
      // What is drawn for the counts before differs; where nothing helps, one count tells as little as another.
      expect(Math.abs(obstacle.quieterBy / quieterBy - 1)).toBeLessThan(0.01);
    }
  });

  it("asks a time limit that is too short to grow with the square of what is missing", () => {
    const limited = load("a", 4, { timeLimitS: 12 });
    const rhythms = new Rhythms(readings, bus.meter, 0.2, 0);
    const depthV = 4 * LOW_OHM - 2 * 0.002;
    const { rhythm, power } = rhythmByHand(rhythms, limited, depthV, 0.01, 0.95);
    expect(power).toBeLessThan(0.95);
    const quieterBy = rhythm.detection.minimumDetectableV(0.01, 0.95) / depthV;
    const onS = rhythm.pattern.onS.reduce((sum, timeS) => sum + timeS, 0);
    const { obstacle } = needlesOf([limited])[0]!;
    if (obstacle?.code !== "time-limit") throw new Error(obstacle?.code);
    expect(obstacle.limitS).toBe(12);
    expect(Math.abs(obstacle.quieterBy / quieterBy - 1)).toBeLessThan(0.01);
    expect(obstacle.neededS).toBe(Math.ceil(onS * obstacle.quieterBy ** 2));
  });

  const { acceptA: _, ...bare } = load("a", 20);
  const { battery: __, ...unknown } = bus;
  it.each<[string, BusProfile, number, object | null]>([
    ["a reading a second is enough", { ...bus, loads: [load("a", 20)] }, 1, null],
    [
      "a reading in 1.01 s is not",
      { ...bus, loads: [load("a", 20)] },
      1.01,
      { code: "sampled-too-slowly", intervalS: 1.01 },
    ],
    [
      "a dip of no more than the friction",
      { ...bus, loads: [load("a", 0.004 / LOW_OHM)] },
      0.1,
      { code: "needle-friction", hiddenV: 0.004 },
    ],
    [
      "no resistance but a rating",
      { ...unknown, loads: [{ ...bare, rated: { currentA: 8 } }] },
      0.1,
      { code: "no-resistance" },
    ],
    ["no resistance but what is acceptable", { ...unknown, loads: [load("a", 20)] }, 0.1, { code: "no-resistance" }],
  ])("%s", (_name, profile, intervalS, obstacle) => {
    const plan = planCheck(profile, { readings: { ...readings, intervalS } });
    expect(plan.items[0]!.needle!.obstacle).toEqual(obstacle);
  });
});
