import { describe, expect, it } from "vitest";
import { statedReadings } from "../../../src/core/plan/planned-readings.js";
import { plannedStretch, QUIET_S } from "../../../src/core/plan/planned-stretch.js";

const readings = (intervalS: number) => statedReadings(0.02, undefined, { intervalS })!;
const onTimes = [
  { onsetS: 40, releaseS: 45 },
  { onsetS: 52, releaseS: 58 },
];

describe("plannedStretch()", () => {
  it("reaches from the quiet before the first switching to the quiet after the last", () => {
    const planned = readings(0.5);
    const { sampled, noise } = plannedStretch(planned, onTimes);
    const { timesS, readingCounts, blockS } = sampled;
    expect(QUIET_S).toBe(30);
    // 10 s to 88 s: 157 readings half a second apart, each one for itself.
    expect(timesS).toHaveLength(157);
    expect(timesS[0]).toBeCloseTo(10.25, 12);
    expect(timesS[1]! - timesS[0]!).toBeCloseTo(0.5, 12);
    expect(timesS[156]).toBeCloseTo(88.25, 9);
    expect([...new Set(readingCounts)]).toEqual([1]);
    expect(blockS).toBe(0);
    expect(noise).toBe(planned.noise);
  });

  it("takes readings faster than a fifth of a second in blocks of that", () => {
    const { timesS, readingCounts, blockS } = plannedStretch(readings(0.05), onTimes).sampled;
    expect(blockS).toBeCloseTo(0.2, 12);
    expect(timesS[1]! - timesS[0]!).toBeCloseTo(0.2, 9);
    expect(readingCounts[0]).toBeCloseTo(4, 9);
    // 78 s of 20 readings a second, and the one at the end: 1561 over 4.
    expect(timesS).toHaveLength(390);
    expect(timesS[0]).toBeCloseTo(10.1, 9);
  });

  it("takes wider blocks where there were more than 2,500, as the detector does", () => {
    const long = Array.from({ length: 20 }, (_, k) => ({ onsetS: 40 + 60 * k, releaseS: 70 + 60 * k }));
    // 30 s of quiet on either side of 1170 s.
    for (const intervalS of [0.001, 0.02, 0.2]) {
      const { timesS, readingCounts, blockS } = plannedStretch(readings(intervalS), long).sampled;
      expect(Math.abs(timesS.length / 2500 - 1), `${intervalS} s`).toBeLessThan(0.001);
      expect(Math.abs(blockS / (1230 / 2500) - 1)).toBeLessThan(0.001);
      expect(Math.abs((readingCounts[0]! * intervalS) / blockS - 1)).toBeLessThan(1e-9);
    }
  });

  it("has no reading after the end of the quiet", () => {
    // 78 s are 111.4 intervals of 0.7 s: 112 readings.
    expect(plannedStretch(readings(0.7), onTimes).sampled.timesS).toHaveLength(112);
  });

  it("has columns for level, slope, the readings and the templates, row by row", () => {
    const stretch = plannedStretch(readings(0.5), onTimes);
    const count = stretch.sampled.timesS.length;
    const one = Float64Array.from({ length: count }, (_, i) => i);
    const two = one.map((v) => -v);
    const columns = stretch.columns([one, two]);
    expect(columns).toHaveLength(5 * count);
    for (const i of [0, 78, count - 1]) {
      expect(Array.from(columns.subarray(5 * i, 5 * i + 5))).toEqual([
        1,
        expect.closeTo(-1 + (2 * i) / (count - 1), 9),
        0,
        i,
        -i,
      ]);
    }
  });

  it("has at least two readings", () => {
    expect(plannedStretch(readings(1000), onTimes).sampled.timesS).toHaveLength(2);
  });
});
