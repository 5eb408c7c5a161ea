import { describe, expect, it } from "vitest";
import { alignClocks, onRecordingClock } from "../../../src/core/series/clock-alignment.js";
import {
  fineOffset,
  type OffsetSearch,
  type SharedStep,
  type StepNoise,
} from "../../../src/core/series/fine-offset.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const noise: StepNoise = { sigmaV: 0.01, sigmaA: 0.3, correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 };
const search = (changed: Partial<OffsetSearch> = {}): OffsetSearch => ({
  centreS: 100,
  halfWidthS: 1,
  stepS: 0.02,
  voltageLags: [{ lagS: 0, weight: 1 }],
  currentLags: [{ lagS: 0, weight: 1 }],
  largestRate: 0,
  ...changed,
});

/** Steps of 6 A and -0.12 V at these times of the current's clock, the voltage's later by the offset and the rate. */
function stepsAt(timesS: readonly number[], { offsetS = 100.3, rate = 0, lagS = 0, seed = 1 } = {}): SharedStep[] {
  const random = randomGenerator(seed);
  const meanS = timesS.reduce((a, b) => a + b, 0) / timesS.length;
  const response = (since: number) => (since < 0 ? 0 : lagS === 0 ? 1 : 1 - Math.exp(-since / lagS));
  return timesS.map((timeS) => {
    const atS = timeS + offsetS + rate * (timeS - meanS);
    const voltageS = Float64Array.from({ length: 50 }, (_, i) => Math.round(atS * 10) / 10 + (i - 25) / 10);
    const currentS = Float64Array.from({ length: 20 }, (_, i) => Math.round(timeS * 4) / 4 + (i - 10) / 4);
    return {
      currentS: timeS,
      voltage: {
        timesS: voltageS,
        values: voltageS.map((t) => 24 - 0.12 * response(t - atS) + noise.sigmaV * random.normal()),
      },
      current: { timesS: currentS, values: currentS.map((t) => (t >= timeS ? 6 : 0) + noise.sigmaA * random.normal()) },
    };
  });
}
const times = [10.07, 15.63, 21.22, 26.41, 32.98, 37.54, 44.1, 49.35];

describe("fineOffset()", () => {
  it("finds the offset between two clocks within what it says of it, at the middle of the steps", () => {
    for (let seed = 1; seed <= 5; seed++) {
      const found = fineOffset(stepsAt(times, { seed }), noise, search());
      expect(found.referenceS).toBeCloseTo(times.reduce((a, b) => a + b, 0) / 8, 9);
      expect(Math.abs(found.offsetS - 100.3)).toBeLessThan(3.5 * found.uOffsetS);
      expect(found.lowS).toBeLessThan(found.offsetS);
      expect(found.highS).toBeGreaterThan(found.offsetS);
      // Readings of the current a quarter of a second apart: each step to 0.07 s, eight of them to some 0.03 s.
      expect(found.uOffsetS).toBeLessThan(0.06);
      expect(found.spreadsS).toHaveLength(8);
      for (const spread of found.spreadsS) expect(spread).toBeLessThan(0.15);
    }
  });

  it("stays where the steps are, wherever the search is centred", () => {
    const steps = stepsAt(times);
    const [left, right] = [99.9, 100.6].map((centreS) => fineOffset(steps, noise, search({ centreS })));
    expect(Math.abs(left!.offsetS - right!.offsetS)).toBeLessThan(0.01);
    expect(left!.uOffsetS).toBeCloseTo(right!.uOffsetS, 2);
    expect(left!.discord).toBeCloseTo(right!.discord, 0);
  });

  it("finds the lag of the meter among those tried, and does not take it for an offset", () => {
    const lags = [0, 0.2, 0.4, 0.8].map((lagS) => ({ lagS, weight: 1 }));
    const found = fineOffset(stepsAt(times, { lagS: 0.4 }), noise, search({ voltageLags: lags }));
    expect(Math.abs(found.voltageLagS - 0.4)).toBeLessThan(3 * Math.max(found.uVoltageLagS, 0.05));
    expect(Math.abs(found.offsetS - 100.3)).toBeLessThan(3.5 * found.uOffsetS);
    const blind = fineOffset(stepsAt(times, { lagS: 0.4 }), noise, search());
    expect(blind.offsetS).toBeGreaterThan(100.4);
  });

  it("finds the difference of the rates where it is let", () => {
    const far = times.map((t) => 40 * t);
    const steps = stepsAt(far, { rate: 3e-4 });
    const found = fineOffset(steps, noise, search({ largestRate: 6e-4 }));
    expect(Math.abs(found.rate - 3e-4)).toBeLessThan(4 * found.uRate);
    expect(found.uRate).toBeLessThan(1.5e-4);
    expect(Math.abs(found.offsetS - 100.3)).toBeLessThan(4 * found.uOffsetS);
    expect(fineOffset(steps, noise, search()).rate).toBe(0);
    // Steps that drift apart disagree where no rate may bring them together.
    expect(fineOffset(steps, noise, search()).discord).toBeGreaterThan(found.discord + 5);
  });

  it("of steps all at one phase between two readings of the current is not surer than that phase", () => {
    const even = [10.1, 15.1, 20.1, 25.1, 30.1, 35.1, 40.1, 45.1];
    const one = fineOffset(stepsAt(even), noise, search());
    const many = fineOffset(stepsAt(times), noise, search());
    expect(one.uOffsetS).toBeGreaterThan(1.2 * many.uOffsetS);
    expect(Math.abs(one.offsetS - 100.3)).toBeLessThan(3 * one.uOffsetS);
  });
});

describe("alignClocks() of a quick pair", () => {
  const switchings = [
    [10.07, 15.63],
    [21.22, 26.41],
    [32.98, 37.54],
    [44.1, 49.35],
  ] as const;
  const isOn = (t: number) => switchings.some(([on, off]) => t >= on && t < off);
  /** Voltage at 5 Hz over a minute; the current at 4 Hz on a clock that is 250 s behind and starts five seconds later. */
  function pair({ sign = 1, behindS = 250, stepA = 6 } = {}) {
    const random = randomGenerator(6);
    const timesS = Float64Array.from({ length: 300 }, (_, i) => i / 5 + 0.03);
    const voltagesV = timesS.map((t) => 24 - (isOn(t) ? 0.2 : 0) + 0.01 * random.normal());
    const moments = Float64Array.from({ length: 220 }, (_, i) => 5 + i / 4);
    const currentsA = moments.map((t) => sign * (1 + (isOn(t) ? stepA : 0) + 0.1 * random.normal()));
    return { recording: { timesS, voltagesV }, current: { timesS: moments.map((t) => t - behindS), currentsA } };
  }

  it.each([1, -1] as const)("finds offset, sign and steps: %d", (sign) => {
    const { recording, current } = pair({ sign });
    const found = alignClocks(recording, current);
    if (!found.known) throw new Error(found.reason);
    expect(Math.abs(found.offsetS - 250)).toBeLessThan(4 * found.uOffsetS + 0.02);
    expect(found.lowS).toBeLessThan(250);
    expect(found.highS).toBeGreaterThan(250);
    // A row may be up to a row old: a fifth and a quarter of a second.
    expect(found.highS - found.lowS).toBeGreaterThan(0.45);
    expect(found).toMatchObject({ sign, stepCount: 8 });
    expect(Math.abs(found.ratePpm)).toBeLessThan(200);
    expect(found.coincidence).toBeLessThan(0.002);
    const moved = onRecordingClock(current, found);
    expect(Math.abs(moved.timesS[0]! - 5)).toBeLessThan(0.2);
    expect(moved.currentsA).toBe(current.currentsA);
  });

  it("looks no farther than it is told", () => {
    const { recording, current } = pair();
    expect(alignClocks(recording, current, { reachS: 300 })).toMatchObject({ known: true });
    expect(alignClocks(recording, current, { reachS: 200 })).toMatchObject({ known: false });
  });

  it("takes a lag that is told", () => {
    const { recording, current } = pair();
    const found = alignClocks(recording, current, { voltageLagS: 0 });
    expect(found).toMatchObject({ known: true, voltageLagS: 0 });
    const lagging = alignClocks(recording, current, { voltageLagS: 0.4 });
    if (!lagging.known) throw new Error(lagging.reason);
    expect(lagging.voltageLagS).toBeGreaterThan(0.33);
    expect(lagging.voltageLagS).toBeLessThan(0.47);
  });

  it("stretches the current's times by the rate about the reference", () => {
    const current = { timesS: Float64Array.of(0, 100), currentsA: Float64Array.of(1, 2) };
    const moved = onRecordingClock(current, { offsetS: 7, ratePpm: 1000, referenceS: 40 } as Parameters<
      typeof onRecordingClock
    >[1]);
    expect(moved.timesS[0]).toBeCloseTo(7 - 0.04, 12);
    expect(moved.timesS[1]).toBeCloseTo(107.06, 12);
  });

  it("refuses few readings, no steps and fewer than two switchings, each for its reason", () => {
    const { recording, current } = pair();
    const cut = (count: number) => ({
      timesS: current.timesS.slice(0, count),
      currentsA: current.currentsA.slice(0, count),
    });
    expect(alignClocks(recording, cut(9))).toEqual({ known: false, reason: "too-few-readings" });
    expect(alignClocks(recording, cut(10))).toEqual({ known: false, reason: "current-without-steps" });
    const short = { timesS: recording.timesS.slice(0, 9), voltagesV: recording.voltagesV.slice(0, 9) };
    expect(alignClocks(short, current)).toEqual({ known: false, reason: "too-few-readings" });
    // Until after the first switching and the second on: three steps.
    expect(alignClocks(recording, cut(75))).toEqual({ known: false, reason: "too-few-shared-steps" });
    const flat = { ...recording, voltagesV: recording.voltagesV.map((_, i) => 24 + 0.01 * (((i * 7919) % 13) - 6)) };
    expect(alignClocks(flat, current)).toMatchObject({ known: false });
  });
});
