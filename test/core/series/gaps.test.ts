import { describe, expect, it } from "vitest";
import { gapsIn } from "../../../src/core/series/gaps.js";

const even = (count: number, intervalS: number) => Float64Array.from({ length: count }, (_, i) => i * intervalS);

describe("gapsIn()", () => {
  it("finds a stretch without readings, with its ends", () => {
    const timesS = even(100, 0.1).map((t) => (t > 4.05 ? t + 3 : t));
    const gaps = gapsIn(timesS);
    expect(gaps.length).toBe(1);
    expect(gaps[0]!.startS).toBeCloseTo(4, 9);
    expect(gaps[0]!.endS).toBeCloseTo(7.1, 9);
  });

  it("finds none in even times, nor where a few readings are missing for less than half a second", () => {
    expect(gapsIn(even(500, 2))).toEqual([]);
    expect(gapsIn(even(500, 0.02).filter((t) => t < 3 || t > 3.4))).toEqual([]);
  });

  it("a logger that slows down between events has none", () => {
    const slow = Array.from({ length: 20 }, (_, i) => 10 + 10 * i);
    const timesS = Float64Array.from([
      ...even(100, 0.1),
      ...slow,
      ...Array.from({ length: 100 }, (_, i) => 205 + 0.1 * i),
    ]);
    // Slow stretches are longer than five of the median intervals, but not than five of their own neighbours.
    expect(gapsIn(timesS).every(({ endS, startS }) => startS < 10 || endS > 200)).toBe(true);
  });

  it("moves with the clock, and finds nothing in fewer than two readings", () => {
    const timesS = even(100, 0.5).filter((t) => t < 20 || t > 31);
    const later = gapsIn(timesS.map((t) => t + 4096));
    expect(later).toEqual(gapsIn(timesS).map(({ startS, endS }) => ({ startS: startS + 4096, endS: endS + 4096 })));
    expect(later.length).toBe(1);
    expect(gapsIn(Float64Array.of(1))).toEqual([]);
    expect(gapsIn(new Float64Array(0))).toEqual([]);
  });

  it("a gap is longer than five times the usual interval and than half a second, by however little", () => {
    const withOne = (intervalS: number, gapS: number) => {
      const timesS = even(40, intervalS);
      return gapsIn(timesS.map((t, i) => (i >= 20 ? t - intervalS + gapS : t))).length;
    };
    expect(withOne(0.25, 1.25)).toBe(0);
    expect(withOne(0.25, 1.26)).toBe(1);
    expect(withOne(0.0625, 0.5)).toBe(0);
    expect(withOne(0.0625, 0.51)).toBe(1);
  });

  it("a gap is longer than five times the interval before it and the one after it", () => {
    const around = (beforeS: number, gapS: number, afterS: number) => {
      const timesS = [...even(20, 0.125)];
      for (const stepS of [beforeS, gapS, afterS]) timesS.push(timesS.at(-1)! + stepS);
      for (let k = 0; k < 20; k++) timesS.push(timesS.at(-1)! + 0.125);
      return gapsIn(Float64Array.from(timesS)).length;
    };
    expect(around(0.5, 2.5, 0.125)).toBe(0);
    expect(around(0.5, 2.6, 0.125)).toBe(1);
    expect(around(0.125, 2.5, 0.5)).toBe(0);
    expect(around(0.125, 2.6, 0.5)).toBe(1);
  });

  it("may stand right after the first or right before the last reading", () => {
    const first = Float64Array.from([0, ...even(20, 0.25).map((t) => t + 9)]);
    expect(gapsIn(first)).toEqual([{ startS: 0, endS: 9 }]);
    const last = Float64Array.from([...even(20, 0.25), 30]);
    expect(gapsIn(last)).toEqual([{ startS: 4.75, endS: 30 }]);
    // The interval before the second one counts from the third reading on: here the first is a gap itself.
    const two = Float64Array.from([0, 4, 9, ...even(20, 0.25).map((t) => t + 9.25)]);
    expect(gapsIn(two)).toEqual([]);
  });
});
