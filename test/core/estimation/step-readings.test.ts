import { describe, expect, it } from "vitest";
import type { Baseline } from "../../../src/core/estimation/baseline.js";
import type { CurrentStep } from "../../../src/core/estimation/current-step.js";
import {
  baseOf,
  firstSettled,
  loosened,
  movedAfter,
  movedBefore,
  onsetFromVoltage,
  type StepSetting,
} from "../../../src/core/estimation/step-readings.js";
import { dischargeSign, resistanceAtSteps } from "../../../src/core/estimation/step-resistance.js";

const step = (changed: Partial<CurrentStep> = {}): CurrentStep => ({
  beforeS: 10,
  afterS: 11,
  onsetS: 10.5,
  uOnsetS: 1 / Math.sqrt(12),
  beforeA: 0,
  afterA: 10,
  deltaA: 10,
  uDeltaA: 0.01,
  quietFromS: 0,
  quietToS: 20,
  ...changed,
});
const even = (count: number, intervalS: number) => Float64Array.from({ length: count }, (_, i) => i * intervalS);
const setting = (timesS: Float64Array, voltagesV: Float64Array, changed: Partial<StepSetting> = {}): StepSetting => ({
  timesS,
  voltagesV,
  current: { timesS, currentsA: timesS },
  quantumV: 0,
  sigmaV: 0.001,
  correlationS: 0,
  quantumA: 0,
  lagS: 0,
  gainFraction: 0,
  atS: [1],
  ...changed,
});
const base: Baseline = { level: 24, slope: 0, uLevel: 0.001, uSlope: 0, covariance: 0, count: 10 };

describe("loosened()", () => {
  it("widens a step by two uncertainties of the clocks' offset, within the quiet around it", () => {
    expect(loosened(step(), 0)).toEqual(step());
    expect(loosened(step(), 1)).toMatchObject({ beforeS: 8, afterS: 13 });
    expect(loosened(step(), 0.3)).toMatchObject({ beforeS: 9.4, afterS: 11.6, onsetS: 10.5 });
    expect(loosened(step(), 0.3).uOnsetS).toBeCloseTo(Math.hypot(1 / Math.sqrt(12), 0.3), 12);
    expect(loosened(step({ quietFromS: 9.8, quietToS: 11.1 }), 0.3)).toMatchObject({ beforeS: 9.8, afterS: 11.1 });
  });
});

describe("onsetFromVoltage()", () => {
  const timesS = even(200, 0.1);
  const falling = (atS: number, depthV = 0.2) => timesS.map((t) => (t >= atS - 1e-9 ? 24 - depthV : 24));

  it("is in the middle of the one jump of the voltage within the step", () => {
    const found = onsetFromVoltage(setting(timesS, falling(10.4)), step());
    expect(found.beforeS).toBeCloseTo(10.3, 9);
    expect(found.afterS).toBeCloseTo(10.4, 9);
    expect(found.onsetS).toBeCloseTo(10.35, 9);
    expect(found.uOnsetS).toBeCloseTo(0.1 / Math.sqrt(12), 9);
    const rising = timesS.map((t) => (t >= 10.4 - 1e-9 ? 24.2 : 24));
    expect(onsetFromVoltage(setting(timesS, rising), step()).onsetS).toBeCloseTo(10.35, 9);
  });

  it("stays that of the current where the voltage jumps by less than eight of its noises", () => {
    expect(onsetFromVoltage(setting(timesS, falling(10.4, 0.0081)), step()).onsetS).toBeCloseTo(10.35, 9);
    expect(onsetFromVoltage(setting(timesS, falling(10.4, 0.0079)), step())).toEqual(step());
  });

  it("stays that of the current where no one jump makes half of the change", () => {
    const inTwo = (first: number) => timesS.map((t) => 24 - (t >= 10.3 ? first : 0) - (t >= 10.7 ? 0.2 - first : 0));
    expect(onsetFromVoltage(setting(timesS, inTwo(0.12)), step()).onsetS).toBeCloseTo(10.25, 6);
    const inThree = timesS.map((t) => 24 - [10.25, 10.45, 10.65].reduce((sum, s) => sum + (t >= s ? 0.1 : 0), 0));
    expect(onsetFromVoltage(setting(timesS, inThree), step())).toEqual(step());
  });

  it("stays that of the current where the voltage was read no more often, or the onset is known", () => {
    const slow = even(30, 1);
    expect(
      onsetFromVoltage(
        setting(
          slow,
          slow.map((t) => (t > 10 ? 23 : 24)),
        ),
        step(),
      ),
    ).toEqual(step());
    expect(onsetFromVoltage(setting(timesS, falling(10.4)), step({ uOnsetS: 0 }))).toEqual(step({ uOnsetS: 0 }));
  });
});

describe("baseOf()", () => {
  it("rests on the later half of the level before the step", () => {
    const timesS = even(30, 1);
    const values = timesS.map((t) => (t < 5 ? 99 : 24));
    const found = baseOf(setting(timesS, values), step(), 10)!;
    expect(found.count).toBe(6);
    expect(found.level).toBeCloseTo(24, 9);
  });
});

describe("firstSettled() late on the clock", () => {
  it("takes a reading for one of the step's end where the two times differ by rounding alone", () => {
    // At 2^20 s neighbouring doubles are 2.3e-10 s apart.
    const startS = 2 ** 20;
    const timesS = even(30, 0.5).map((t) => t + startS - 2 ** -31);
    const moved = step({ beforeS: startS + 10, afterS: startS + 11, onsetS: startS + 10.5, quietToS: startS + 20 });
    const voltagesV = timesS.map((_, k) => (k < 22 ? 24 : 23.8));
    expect(firstSettled(setting(timesS, voltagesV), moved, base)).toBe(22);
  });
});

describe("firstSettled()", () => {
  const timesS = even(60, 0.5);
  const reaching = (...volts: number[]) =>
    timesS.map((t) => (t < 11 ? 24 : 24 - (volts[Math.round((t - 11) / 0.5)] ?? volts.at(-1)!)));

  it("is the first reading after the step from which the next goes not much further", () => {
    expect(firstSettled(setting(timesS, reaching(0.2)), step(), base)).toBe(22);
    // 0.1 is half of 0.2: not settled; 0.15 is three quarters.
    expect(firstSettled(setting(timesS, reaching(0.1, 0.2)), step(), base)).toBe(23);
    expect(firstSettled(setting(timesS, reaching(0.15, 0.2)), step(), base)).toBe(22);
    // Less than five noises further is no going on.
    expect(firstSettled(setting(timesS, reaching(0.004, 0.008)), step(), base)).toBe(22);
    expect(firstSettled(setting(timesS, reaching(0.004, 0.0092)), step(), base)).toBe(23);
  });

  it("waits four lags, and no longer than two seconds for the next to settle", () => {
    expect(firstSettled(setting(timesS, reaching(0.2), { lagS: 0.3 }), step(), base)).toBe(24);
    // 10.5 s and 1.2 s: 11.7 s, so 12 s. Growing for ever: the reading at 12.5 s is the last within two seconds.
    expect(firstSettled(setting(timesS, reaching(0.1, 0.2, 0.4, 0.8, 1.6, 3.2)), step(), base)).toBe(25);
  });

  it("is none where the level ended before", () => {
    expect(firstSettled(setting(timesS, reaching(0.2)), step({ quietToS: 11 }), base)).toBe(22);
    expect(firstSettled(setting(timesS, reaching(0.2)), step({ quietToS: 10.9 }), base)).toBeNull();
    expect(firstSettled(setting(even(22, 0.5), reaching(0.2)), step(), base)).toBeNull();
  });
});

describe("movedAfter()", () => {
  const timesS = even(120, 0.25);
  const jumping = (atS: number, by = 0.2) => timesS.map((t) => (t < atS ? 24 : 24 - by));

  it("is so where the voltage holds for two readings after the step and jumps then, within two seconds", () => {
    const moved = (atS: number) => movedAfter(setting(timesS, jumping(atS)), step(), base);
    expect(moved(11)).toBe(false);
    expect(moved(11.25)).toBe(false);
    expect(moved(11.5)).toBe(true);
    expect(moved(12.5)).toBe(true);
    expect(moved(12.75)).toBe(false);
    expect(movedAfter(setting(timesS, jumping(12)), step({ quietToS: 11.9 }), base)).toBe(false);
  });

  it("is not so of a voltage that slides, nor of one that moves by less than eight of its noises", () => {
    const sliding = timesS.map((t) => 24 - Math.max(0, t - 11) * 0.02);
    expect(movedAfter(setting(timesS, sliding), step(), base)).toBe(false);
    // sqrt 2 mV: 11.3 mV.
    expect(movedAfter(setting(timesS, jumping(11.5, 0.0111)), step(), base)).toBe(false);
    expect(movedAfter(setting(timesS, jumping(11.5, 0.0115)), step(), base)).toBe(true);
  });

  it("reckons with the drift before the step", () => {
    const drifting = timesS.map((t) => 24 - 0.05 * (t - 10.5));
    expect(movedAfter(setting(timesS, drifting), step(), { ...base, slope: -0.05 })).toBe(false);
  });
});

describe("movedBefore()", () => {
  const timesS = even(40, 0.5);
  const early = (share: number) => timesS.map((t) => (t < 10 ? 24 : t < 10.5 ? 24 - 0.2 * share : 23.8));
  const last = 20;

  it("is so where the last reading before the step has more than three tenths of the change already", () => {
    const moved = (share: number) => movedBefore(setting(timesS, early(share)), step(), last, 23);
    expect(moved(0.31)).toBe(true);
    expect(moved(0.29)).toBe(false);
    expect(moved(0)).toBe(false);
    expect(moved(-0.5)).toBe(false);
  });

  it("only beyond six of its noises, and where there are readings before it", () => {
    const noisy = (sigmaV: number) => movedBefore(setting(timesS, early(0.5), { sigmaV }), step(), last, 23);
    expect(noisy(0.012)).toBe(true);
    expect(noisy(0.018)).toBe(false);
    expect(movedBefore(setting(timesS, early(0.5)), step({ quietFromS: 9.6 }), last, 23)).toBe(false);
    expect(movedBefore(setting(timesS, early(0.5)), step(), 0, 23)).toBe(false);
  });
});

describe("dischargeSign()", () => {
  const timed = (changeV: number, changeA: number, uOhm: number) => ({
    atS: 1,
    first: false,
    answer: { known: true as const, resistanceOhm: 0, uOhm, changeV, changeA, rows: [] },
  });
  const unknown = { atS: 1, first: false, answer: { known: false as const, reason: "sampled-too-slowly" as const } };

  it("is 1 where the voltage falls as the current rises, -1 where it rises with it; null where no step tells", () => {
    expect(dischargeSign([timed(-0.2, 10, 0.001)])).toBe(1);
    expect(dischargeSign([timed(0.2, -10, 0.001)])).toBe(1);
    expect(dischargeSign([timed(0.2, 10, 0.001), unknown])).toBe(-1);
    expect(dischargeSign([unknown])).toBeNull();
    expect(dischargeSign([])).toBeNull();
    // 20 mOhm, known to 9.9 and to 10.1 mOhm: two uncertainties.
    expect(dischargeSign([timed(-0.2, 10, 0.0099)])).toBe(1);
    expect(dischargeSign([timed(-0.2, 10, 0.0101)])).toBeNull();
  });

  it("weighs steps by the square of their current", () => {
    expect(dischargeSign([timed(-0.2, 10, 0.001), timed(0.08, 4, 0.001)])).toBe(1);
    expect(dischargeSign([timed(-0.08, 4, 0.001), timed(0.2, 10, 0.001)])).toBe(-1);
  });
});

describe("resistanceAtSteps() by hand", () => {
  const timesS = even(400, 0.1);
  const times = { timesS, current: { timesS, currentsA: timesS.map((t) => (t > 10.05 ? 12 : 2)) } };
  const noise = { sigma: 0.001, correlationS: 0 };
  const own = step({
    beforeS: 10,
    afterS: 10.1,
    onsetS: 10.05,
    uOnsetS: 0.1 / Math.sqrt(12),
    beforeA: 2,
    afterA: 12,
    quietToS: 39.9,
  });
  const at = (voltagesV: Float64Array, atS: number, options = {}, one = own) => {
    const [found] = resistanceAtSteps({ ...times, voltagesV }, [one], {
      noise,
      gainFraction: 0.02,
      dischargeSign: 1,
      ...options,
    });
    const timed = found!.answers.find((answer) => !answer.first && answer.atS === atS);
    if (!timed?.answer.known) throw new Error(JSON.stringify(timed));
    return timed.answer;
  };
  const unrest = (i: number) => 0.0004 * (((i * 7) % 5) - 2);

  it("is change of voltage over change of current, the drift before carried on under a load", () => {
    const volts = timesS.map((t, i) => 25 + 0.002 * t - (t > 10.05 ? 0.2 : 0) + unrest(i));
    const found = at(volts, 10);
    expect(found.resistanceOhm).toBeCloseTo(0.02, 4);
    expect(found.changeA).toBeCloseTo(10, 9);
    expect(found.changeV).toBeCloseTo(-0.2, 3);
    const parts = Object.fromEntries(found.rows.map((row) => [row.source, Math.abs(row.sensitivity * row.u)]));
    // The gain of the clamp and its change known to 10 mA.
    expect(parts["measured-current"]).toBeCloseTo(0.02 * Math.hypot(0.02, 0.001), 6);
    expect(parts["display-step"]).toBe(0);
    // Half of the drift over ten seconds, rectangular, is the bulk of the rest: 1 mV/s x 10 s / sqrt 3 / 10 A.
    expect(parts["reading-noise"]! / (0.001 / Math.sqrt(3))).toBeGreaterThan(1);
    expect(parts["reading-noise"]! / (0.001 / Math.sqrt(3))).toBeLessThan(1.15);
    expect(found.uOhm).toBeCloseTo(Math.hypot(...Object.values(parts)), 12);
  });

  it("is told at a time only where the onset is known to three tenths of it", () => {
    const volts = timesS.map((t, i) => 25 - (t > 10.05 ? 0.2 : 0) + unrest(i));
    for (const atS of [1, 10]) {
      expect(at(volts, atS, {}, { ...own, uOnsetS: 0.29 * atS }).resistanceOhm).toBeCloseTo(0.02, 3);
      expect(() => at(volts, atS, {}, { ...own, uOnsetS: 0.31 * atS })).toThrow("sampled-too-slowly");
    }
  });

  it("under a load switched off the drift may go on or end: all of it is open", () => {
    const current = { timesS, currentsA: timesS.map((t) => (t > 10.05 ? 2 : 12)) };
    const volts = timesS.map((t, i) => 25 - 0.002 * Math.min(t, 10.05) + (t > 10.05 ? 0.2 : 0) + unrest(i));
    const off = { ...own, beforeA: 12, afterA: 2, deltaA: -10 };
    const [found] = resistanceAtSteps({ timesS, voltagesV: volts, current }, [off], {
      noise,
      gainFraction: 0,
      dischargeSign: 1,
    });
    const { answer } = found!.answers.find(({ atS, first }) => !first && atS === 10)!;
    if (!answer.known) throw new Error(answer.reason);
    expect(answer.resistanceOhm).toBeCloseTo(0.02, 4);
    const row = answer.rows.find(({ source }) => source === "reading-noise")!;
    // 2 mV/s x 10 s / sqrt 3.
    expect(row.u / (0.02 / Math.sqrt(3))).toBeGreaterThan(0.97);
    expect(row.u / (0.02 / Math.sqrt(3))).toBeLessThan(1.1);
  });

  it("counts display steps of both levels, and an onset that is not known where the voltage still moves", () => {
    const stepped = timesS.map(
      (t) => Math.round((25 - (t > 10.05 ? 0.2 : 0)) / 0.05) * 0.05 + (Math.round(t * 10) % 7 === 0 ? 0.05 : 0),
    );
    const row = at(stepped, 1).rows.find(({ source }) => source === "display-step")!;
    expect(row.value).toBeCloseTo(0.05, 9);
    expect(row.u).toBeCloseTo((Math.SQRT2 * 0.05) / Math.sqrt(12), 9);
    const moving = timesS.map((t, i) => 25 - (t > 10.05 ? 0.2 + 0.01 * (t - 10.05) : 0) + unrest(i));
    const timing = at(moving, 10).rows.find(({ source }) => source === "switching-time-and-shape")!;
    expect(timing.u / ((0.01 * 0.1) / Math.sqrt(12))).toBeGreaterThan(0.9);
    expect(timing.u / ((0.01 * 0.1) / Math.sqrt(12))).toBeLessThan(1.1);
  });

  it("tells charge from discharge by the sign of the current on either side", () => {
    const volts = timesS.map((t, i) => 25 - (t > 10.05 ? 0.2 : 0) + unrest(i));
    const charging = (beforeA: number, sign: 1 | -1 = 1) => {
      const one = { ...own, beforeA, afterA: beforeA + 10 };
      return resistanceAtSteps({ ...times, voltagesV: volts }, [one], { noise, dischargeSign: sign })[0]!.charging;
    };
    // A twentieth of the step counts as the clamp's zero: half an ampere.
    expect(charging(0)).toBe(false);
    expect(charging(-0.4)).toBe(false);
    expect(charging(-0.6)).toBe(true);
    expect(charging(2, -1)).toBe(true);
  });

  it("has nothing to say without a current or without steps", () => {
    expect(resistanceAtSteps({ timesS, voltagesV: timesS }, [own])).toEqual([]);
    expect(resistanceAtSteps({ ...times, voltagesV: timesS }, [])).toEqual([]);
  });

  it("says when no change stands out of the noise, and when it is lost in the display", () => {
    const flat = timesS.map((_, i) => 25 + unrest(i));
    const [found] = resistanceAtSteps({ ...times, voltagesV: flat }, [own], { noise });
    expect(found!.answers.map(({ answer }) => answer)).toEqual([
      { known: false, reason: "load-did-not-respond" },
      { known: false, reason: "load-did-not-respond" },
      { known: false, reason: "load-did-not-respond" },
    ]);
  });
});
