import { describe, expect, it } from "vitest";
import { alignClocks, type KnownAlignment, LARGEST_COINCIDENCE, onRecordingClock } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { clockPair, EVERYDAY, type PairSettings } from "./clock-pairs.js";

/** A series that steps between two levels at the times given. */
function stepping(rateHz: number, durationS: number, stepsS: readonly number[], levels: readonly [number, number]) {
  const timesS = Float64Array.from({ length: durationS * rateHz }, (_, i) => i / rateHz);
  const values = timesS.map((t) => levels[stepsS.filter((step) => step <= t).length % 2]!);
  return { timesS, values };
}

function pairOf(voltageStepsS: readonly number[], currentStepsS: readonly number[], durationS = 120) {
  const voltage = stepping(10, durationS, voltageStepsS, [25.2, 25.0]);
  const current = stepping(4, durationS, currentStepsS, [0, 8]);
  return {
    recording: { timesS: voltage.timesS, voltagesV: voltage.values },
    current: { timesS: current.timesS, currentsA: current.values },
  };
}

function alignOf(stepsS: readonly number[]) {
  const { recording, current } = pairOf(stepsS, stepsS);
  return alignClocks(recording, current);
}

const IRREGULAR = [20.03, 26.11, 33.47, 37.92, 48.26, 52.71];

function errorsOf(settings: PairSettings, pairCount: number): { errorsS: number[]; coveredCount: number } {
  const random = randomGenerator(1);
  const errorsS: number[] = [];
  let coveredCount = 0;
  for (let i = 0; i < pairCount; i += 1) {
    const { recording, current, recordingTimeS } = clockPair(settings, random);
    const found = alignClocks(recording, current);
    if (!found.known) continue;
    const truthS = recordingTimeS(found.referenceS) - found.referenceS;
    errorsS.push(found.offsetS - truthS);
    if (found.lowS <= truthS && truthS <= found.highS) coveredCount += 1;
  }
  return { errorsS, coveredCount };
}

describe("alignClocks()", () => {
  it("finds the offset of clean logs within a quarter of the slower interval", () => {
    const { recording, current } = pairOf(
      IRREGULAR,
      IRREGULAR.map((time) => time - 7.3),
    );
    const found = alignClocks(recording, current) as KnownAlignment;
    expect(found.known).toBe(true);
    expect(Math.abs(found.offsetS - 7.3)).toBeLessThan(0.0625);
    expect(found.stepCount).toBe(6);
    expect(found.sign).toBe(1);
  });

  it("sees a clamp that sat the other way round", () => {
    const { recording, current } = pairOf(IRREGULAR, IRREGULAR);
    const found = alignClocks(recording, { ...current, currentsA: current.currentsA.map((a) => -a) }) as KnownAlignment;
    expect(found.sign).toBe(-1);
    expect(Math.abs(found.offsetS)).toBeLessThan(0.0625);
  });

  it("moves the offset as far as the current's clock is moved", () => {
    const { recording, current } = clockPair(EVERYDAY, randomGenerator(3));
    const found = alignClocks(recording, current) as KnownAlignment;
    const moved = alignClocks(recording, { ...current, timesS: current.timesS.map((t) => t + 300) }) as KnownAlignment;
    expect(moved.offsetS + 300).toBeCloseTo(found.offsetS, 2);
  });

  it("does not hang on when both clocks began", () => {
    const { recording, current } = clockPair(EVERYDAY, randomGenerator(3));
    const found = alignClocks(recording, current) as KnownAlignment;
    const later = <T extends { timesS: Float64Array }>(series: T) => ({
      ...series,
      timesS: series.timesS.map((t) => t + 2 ** 20),
    });
    const moved = alignClocks(later(recording), later(current)) as KnownAlignment;
    expect(moved.known).toBe(true);
    for (const name of ["offsetS", "uOffsetS", "lowS", "highS", "ratePpm", "stepCount"] as const)
      expect(moved[name], name).toBeCloseTo(found[name], 5);
  });

  it("keeps within 0.35 of the slower interval, without bias, and within its interval, for lagging and noisy logs", () => {
    const { errorsS, coveredCount } = errorsOf(EVERYDAY, 24);
    // One in twenty is refused because its steps scatter; more than four of 24 happen once in 170.
    expect(errorsS.length).toBeGreaterThanOrEqual(20);
    for (const errorS of errorsS) expect(Math.abs(errorS)).toBeLessThan(0.5);
    const mean = errorsS.reduce((a, b) => a + b, 0) / errorsS.length;
    const deviation = Math.sqrt(errorsS.reduce((a, b) => a + (b - mean) ** 2, 0) / (errorsS.length - 1));
    expect(deviation).toBeLessThan(0.35 / EVERYDAY.currentRateHz);
    // A fifth of the interval of 0.25 s; treating the clamp's readings as held would be off by half of it and the lag.
    expect(Math.abs(mean)).toBeLessThan(0.05);
    // Four or more outside of at most 24 happen once in thirty at a true 95 %.
    expect(errorsS.length - coveredCount).toBeLessThan(4);
  });

  it("finds the same however large a current flows all the time", () => {
    const { recording, current } = pairOf(
      IRREGULAR,
      IRREGULAR.map((time) => time - 7.3),
    );
    const plain = alignClocks(recording, current) as KnownAlignment;
    for (const baseA of [-1000, 100, 1000]) {
      const beside = { ...current, currentsA: current.currentsA.map((a) => a + baseA) };
      const found = alignClocks(recording, beside) as KnownAlignment;
      expect(found.known, `${baseA} A`).toBe(true);
      expect(found.offsetS).toBeCloseTo(plain.offsetS, 6);
    }
  });

  it("puts the current onto the recording's clock", () => {
    const { recording, current } = pairOf(
      IRREGULAR,
      IRREGULAR.map((time) => time - 7.3),
    );
    const found = alignClocks(recording, current) as KnownAlignment;
    const moved = onRecordingClock(current, found);
    expect(moved.timesS[0]! - current.timesS[0]!).toBeCloseTo(found.offsetS, 2);
    expect(moved.currentsA).toBe(current.currentsA);
  });

  it("finds the offset of two switchings whose steps are clean, and doubts that of a rhythm too even to tell runs apart", () => {
    const two = pairOf([20.03, 26.11, 33.47, 37.92], [12.73, 18.81, 26.17, 30.62]);
    const found = alignClocks(two.recording, two.current) as KnownAlignment;
    expect(Math.abs(found.offsetS - 7.3)).toBeLessThan(0.0625);
    const even = [20, 25, 30, 35, 40, 45];
    const beat = pairOf(
      even,
      even.map((time) => time - 7.3),
    );
    const doubted = alignClocks(beat.recording, beat.current) as KnownAlignment;
    expect(Math.abs(doubted.offsetS - 7.3)).toBeLessThan(0.125);
    expect(doubted.coincidence).toBeGreaterThan(LARGEST_COINCIDENCE);
    expect((alignOf(IRREGULAR) as KnownAlignment).coincidence).toBeLessThan(LARGEST_COINCIDENCE);
  });

  it("holds the truth in its interval although the clamp's rows are up to a row old", () => {
    const { errorsS, coveredCount } = errorsOf({ ...EVERYDAY, clamp: "held", noiseShareA: 0.02 }, 12);
    expect(errorsS.length).toBeGreaterThanOrEqual(10);
    // Of 12 that are held with 95 % each, more than two are missed once in 50.
    expect(coveredCount).toBeGreaterThanOrEqual(errorsS.length - 2);
  });

  it.each([0.03, 0.5, 0.96])(
    "knows the offset no better than one step tells it where all fall %d s after a reading of the clamp",
    (phaseS) => {
      // Switched by a machine in whole seconds, and one reading a second: evenly anywhere between two.
      const stepsS = [20, 31, 37, 52, 58, 75, 88, 95, 113, 120, 141, 150].map((timeS) => timeS + phaseS);
      const voltage = stepping(10, 180, stepsS, [25.2, 25.0]);
      const current = stepping(1, 180, stepsS, [0, 8]);
      const found = alignClocks(
        { timesS: voltage.timesS, voltagesV: voltage.values },
        { timesS: current.timesS, currentsA: current.values },
      ) as KnownAlignment;
      expect(found.known).toBe(true);
      // A 95 % interval leaves out 2.5 % at either end.
      expect(found.lowS).toBeLessThan(0);
      expect(found.highS).toBeGreaterThan(0);
      expect(found.uOffsetS).toBeGreaterThan(0.97 / Math.sqrt(12));
    },
  );

  it("takes the voltmeter's lag that it is told for known to about a tenth", () => {
    const { recording, current } = clockPair({ ...EVERYDAY, voltageLagS: 0.6 }, randomGenerator(5));
    const found = alignClocks(recording, current, { voltageLagS: 0.6 }) as KnownAlignment;
    expect(found.known).toBe(true);
    expect(Math.abs(found.voltageLagS - 0.6)).toBeLessThan(0.09);
    // Within that tenth the logs correct it: the same noise on a swifter and on a slower needle.
    const lagFound = (voltageLagS: number) => {
      const pair = clockPair({ ...EVERYDAY, voltageLagS }, randomGenerator(5));
      return (alignClocks(pair.recording, pair.current, { voltageLagS: 0.6 }) as KnownAlignment).voltageLagS;
    };
    expect(lagFound(0.69)).toBeGreaterThan(lagFound(0.51) + 0.01);
  });

  it.each([0.04, 0.44])("finds a voltmeter's lag of %d s that nobody told, to 0.03 s in quiet logs", (voltageLagS) => {
    const quiet = { ...EVERYDAY, currentRateHz: 10, switchingCount: 4, noiseShareV: 0.02, noiseShareA: 0.02 };
    const { recording, current } = clockPair({ ...quiet, voltageLagS }, randomGenerator(1));
    const found = alignClocks(recording, current) as KnownAlignment;
    expect(found.known).toBe(true);
    expect(Math.abs(found.voltageLagS - voltageLagS)).toBeLessThan(0.03);
  });

  it("never puts unrelated switchings of one rhythm together without a doubt", () => {
    const random = randomGenerator(7);
    for (let i = 0; i < 60; i += 1) {
      const { recording, current } = clockPair({ ...EVERYDAY, unrelated: true }, random);
      const found = alignClocks(recording, current);
      // Two in a thousand pairs may pass at the limit: one run of 60 pairs in nine.
      if (found.known) expect(found.coincidence).toBeGreaterThan(LARGEST_COINCIDENCE);
    }
  });

  it("finds the offset in a voltage of one reading a second, though a load that was not measured stepped too", () => {
    const stepsS = [40.3, 66.1, 103.5, 137.9, 188.3, 212.7, 250.4, 291.2];
    const voltage = stepping(1, 340, stepsS, [25.2, 25.0]);
    const voltagesV = voltage.values.map((v, i) => v - (voltage.timesS[i]! > 310 ? 0.2 : 0));
    const current = stepping(
      4,
      340,
      stepsS.map((time) => time - 7.3),
      [0, 8],
    );
    const found = alignClocks(
      { timesS: voltage.timesS, voltagesV },
      { timesS: current.timesS, currentsA: current.values },
    ) as KnownAlignment;
    expect(found.known).toBe(true);
    expect(found.lowS).toBeLessThan(7.3);
    expect(found.highS).toBeGreaterThan(7.3);
    expect(Math.abs(found.offsetS - 7.3)).toBeLessThan(0.5);
  });

  it("refuses a voltage with further steps that keep the same even rhythm", () => {
    const { recording, current } = pairOf([20, 25, 30, 35, 40, 45, 50, 55], [30, 35, 40, 45], 90);
    expect(alignClocks(recording, current)).toMatchObject({ known: false });
  });

  it("refuses a current that never steps", () => {
    const { recording, current } = pairOf(IRREGULAR, []);
    expect(alignClocks(recording, current)).toEqual({ known: false, reason: "current-without-steps" });
  });

  it("refuses a single switching", () => {
    const { recording, current } = pairOf([20.03, 26.11], [20.03, 26.11]);
    expect(alignClocks(recording, current)).toEqual({ known: false, reason: "too-few-shared-steps" });
  });

  it("refuses logs whose steps have nothing in common", () => {
    const { recording, current } = pairOf(IRREGULAR, [10.4, 13.1, 40.8, 49.9, 80.2, 82.9]);
    expect(alignClocks(recording, current)).toMatchObject({ known: false });
  });

  it("refuses a regular pattern that fits one beat later as well", () => {
    const beats = Array.from({ length: 23 }, (_, i) => 5 + 5 * i);
    const voltage = pairOf(beats, beats);
    const current = {
      timesS: voltage.current.timesS.subarray(160, 280),
      currentsA: voltage.current.currentsA.subarray(160, 280),
    };
    expect(alignClocks(voltage.recording, current)).toEqual({ known: false, reason: "two-offsets-fit" });
  });

  it("refuses a handful of readings", () => {
    const few = { timesS: Float64Array.of(0, 1, 2), currentsA: Float64Array.of(0, 5, 0) };
    expect(alignClocks(pairOf(IRREGULAR, IRREGULAR).recording, few)).toEqual({
      known: false,
      reason: "too-few-readings",
    });
  });
});
