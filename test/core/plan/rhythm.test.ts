import { describe, expect, it } from "vitest";
import { CriticalOffset } from "../../../src/core/plan/critical-offset.js";
import { statedReadings } from "../../../src/core/plan/planned-readings.js";
import { plannedStretch } from "../../../src/core/plan/planned-stretch.js";
import { predictedDetection, typicalUncertaintyV } from "../../../src/core/plan/predicted-power.js";
import { Rhythms, SWITCHING_COUNTS } from "../../../src/core/plan/rhythm.js";
import { evenPattern, onTimesOf } from "../../../src/core/plan/switching-pattern.js";

const readings = statedReadings(0.05, undefined)!;
const meter = { lagS: 0.25 };
const knowledge = { scaleSd: 0.06, shrink: 0.99 };
const onTimes = onTimesOf(evenPattern(4, 5), 30);
const load = { kind: "resistive" as const, onTimes, timeUncertaintyS: 0.2 };
const predicted = (changed: Partial<typeof load> = {}, noiseV = 0.05) =>
  predictedDetection(plannedStretch(statedReadings(noiseV, undefined)!, onTimes), { ...load, ...changed }, meter, {
    knowledge,
    offset: new CriticalOffset(),
  });

describe("typicalUncertaintyV()", () => {
  it("grows with the noise, and falls with the switchings", () => {
    const u = (noiseV: number, count: number) => {
      const times = onTimesOf(evenPattern(count, 5), 30);
      return typicalUncertaintyV(
        plannedStretch(statedReadings(noiseV, undefined)!, times),
        { ...load, onTimes: times },
        meter,
      );
    };
    expect(u(0.1, 4) / u(0.05, 4)).toBeCloseTo(2, 6);
    // Four times the switchings: half the uncertainty, but for the drift that they share.
    expect(u(0.05, 16) / u(0.05, 4)).toBeGreaterThan(0.42);
    expect(u(0.05, 16) / u(0.05, 4)).toBeLessThan(0.6);
  });
});

describe("predictedDetection()", () => {
  const found = predicted();

  it("finds nothing more often than the false-alarm rate, a deep dip surely, and rises between", () => {
    // Without a dip: the rate itself, give or take the draws' accuracy and the allowance for the open noise.
    expect(found.power(0, 0.01)).toBeLessThan(0.02);
    expect(found.power(0, 0.01)).toBeGreaterThan(0.002);
    expect(found.power(0.5, 0.01)).toBeGreaterThan(0.9999);
    let last = 0;
    for (let depthV = 0; depthV < 0.2; depthV += 0.01) {
      const power = found.power(depthV, 0.01);
      expect(power).toBeGreaterThanOrEqual(last - 1e-9);
      last = power;
    }
    expect(found.power(0.05, 0.001)).toBeLessThan(found.power(0.05, 0.01));
  });

  it("minimumDetectableV() is the depth of that power", () => {
    for (const [rate, power] of [
      [0.01, 0.95],
      [0.001, 0.8],
      [0.05, 0.5],
    ] as const)
      expect(found.power(found.minimumDetectableV(rate, power), rate)).toBeCloseTo(power, 3);
  });

  it("is a matter of dip over noise: twice of both is the same", () => {
    expect(predicted({}, 0.1).power(0.08, 0.01)).toBeCloseTo(found.power(0.04, 0.01), 2);
  });

  it("is worse for a hand that keeps time badly, and for noise that is less well known", () => {
    expect(predicted({ timeUncertaintyS: 1 }).minimumDetectableV(0.01, 0.95)).toBeGreaterThan(
      1.05 * found.minimumDetectableV(0.01, 0.95),
    );
    const unknown = predictedDetection(plannedStretch(readings, onTimes), load, meter, {
      knowledge: { scaleSd: 0.3, shrink: 0.9 },
      offset: new CriticalOffset(),
    });
    expect(unknown.minimumDetectableV(0.01, 0.95)).toBeGreaterThan(1.1 * found.minimumDetectableV(0.01, 0.95));
  });
});

describe("Rhythms", () => {
  const rhythms = () => new Rhythms(readings, meter, 0.2, 45);

  it("prefers a cadence that the meter can follow: four of its lags", () => {
    const best = rhythms().bestCadenceS("resistive");
    expect([3, 4, 5, 6, 8]).toContain(best);
    expect(new Rhythms(readings, { lagS: 1.6 }, 0.2, 45).bestCadenceS("resistive")).toBe(8);
    expect(new Rhythms(readings, { lagS: 1.5 }, 0.2, 45).bestCadenceS("resistive")).toBeGreaterThanOrEqual(6);
    // Slower than any usual cadence: its own.
    expect(new Rhythms(readings, { lagS: 2.6 }, 0.2, 45).bestCadenceS("resistive")).toBe(11);
    // A hand that errs by a second spoils short times more, and one that errs by two still more.
    const byHand = [0, 0.2, 0.5, 1, 2].map((u) => new Rhythms(readings, meter, u, 45).bestCadenceS("resistive"));
    expect(byHand).toEqual([...byHand].sort((a, b) => a - b));
    expect(byHand.at(-1)).toBeGreaterThan(byHand[0]!);
  });

  it("goes down to two seconds for a load that must not be on for long, and keeps to the best otherwise", () => {
    const one = rhythms();
    const best = one.bestCadenceS("heater");
    expect(one.cadencesFor("heater", null)).toEqual([best]);
    const shorter = one.cadencesFor("heater", 20);
    expect(shorter[0]).toBe(best);
    expect(shorter.at(-1)).toBe(2);
    expect(shorter).toHaveLength(best - 1);
  });

  it("gives the free pattern where the limit allows it, a shorter one where it does not, and none where nothing fits", () => {
    const one = rhythms();
    const free = one.rhythm("resistive", 4, 5, null)!;
    expect(free.pattern.onS).toHaveLength(4);
    expect(one.rhythm("resistive", 4, 5, free.pattern.totalOnS)).toBe(free);
    const bound = one.rhythm("resistive", 4, 5, free.pattern.totalOnS - 2)!;
    expect(bound.pattern.totalOnS).toBeLessThanOrEqual(free.pattern.totalOnS - 2);
    expect(bound.detection.power(0.1, 0.01)).toBeLessThanOrEqual(free.detection.power(0.1, 0.01) + 0.02);
    expect(one.rhythm("resistive", 4, 5, 3)).toBeNull();
    expect(one.rhythm("resistive", 4, 5, null)).toBe(free);
  });

  it("roughUncertaintyV() is that of the plain beat", () => {
    const one = rhythms();
    const times = onTimesOf(evenPattern(4, 5), 0);
    const u = typicalUncertaintyV(plannedStretch(readings, times), { ...load, onTimes: times }, meter);
    expect(one.roughUncertaintyV("resistive", 4, 5)).toBeCloseTo(u, 12);
    expect(one.roughUncertaintyV("resistive", 4, 5)).toBe(one.roughUncertaintyV("constant-power", 4, 5));
    expect(one.roughUncertaintyV("heater", 4, 5)).not.toBe(one.roughUncertaintyV("resistive", 4, 5));
    expect(one.roughUncertaintyV("resistive", 8, 5)).toBeLessThan(u);
  });

  it("tries three switchings first and sixteen last", () => {
    expect(SWITCHING_COUNTS[0]).toBe(3);
    expect(SWITCHING_COUNTS.at(-1)).toBe(16);
    expect([...SWITCHING_COUNTS]).toEqual([...SWITCHING_COUNTS].sort((a, b) => a - b));
  });
});
