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
});
