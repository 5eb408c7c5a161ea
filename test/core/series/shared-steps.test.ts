import { describe, expect, it } from "vitest";
import type { SeriesPair } from "../../../src/core/series/series-pair.js";
import { sharedSteps } from "../../../src/core/series/shared-steps.js";

const even = (count: number, intervalS: number) => Float64Array.from({ length: count }, (_, i) => i * intervalS);

/** Voltage each 1/8 s and current each 1/4 s over 100 s. */
const series: SeriesPair = {
  voltageTimesS: even(800, 0.125),
  voltagesV: even(800, 0.125).map((t) => 24 - t / 1000),
  currentTimesS: even(400, 0.25),
  currentsA: even(400, 0.25).map((t) => t / 10),
  voltageIntervalS: 0.125,
  currentIntervalS: 0.25,
  slowerS: 0.25,
  voltageRowS: 0.125,
  currentRowS: 0.25,
};
const step = (timeS: number, height = 5) => ({ timeS, height });
const ends = (timesS: Float64Array) => [timesS[0], timesS.at(-1)];

describe("sharedSteps()", () => {
  it("keeps two and a half seconds of both series on either side of a lone step, the voltage's at the offset", () => {
    const [shared] = sharedSteps(series, [step(30.06)], 10, 0.1);
    expect(shared).toMatchObject({ timeS: 30.06, height: 5, currentS: 30.06 });
    expect(ends(shared!.current.timesS)).toEqual([27.75, 32.5]);
    expect(ends(shared!.voltage.timesS)).toEqual([37.625, 42.5]);
    expect(shared!.current.values[0]).toBeCloseTo(2.775, 12);
    expect(shared!.voltage.values[0]).toBeCloseTo(24 - 0.037625, 12);
  });

  it("keeps five of the slower intervals where they are longer", () => {
    const [shared] = sharedSteps({ ...series, slowerS: 1 }, [step(30.06)], 10, 0.1);
    expect(ends(shared!.current.timesS)).toEqual([25.25, 35]);
  });

  it("stops short of its neighbours: the current by two intervals, the voltage by lag, doubt and settling", () => {
    const [one, two] = sharedSteps(series, [step(30.06), step(32.06)], 10, 0.1);
    // Current: 2 s less 0.5 s. Voltage: after the first step 2 s less 0.1 and 0.25; before the second 0.5 s more.
    expect(one!.current.timesS.at(-1)).toBe(31.5);
    expect(two!.current.timesS[0]).toBe(30.75);
    expect(one!.voltage.timesS.at(-1)).toBe(41.625);
    expect(two!.voltage.timesS[0]).toBe(41);
    // Never less than half of the way.
    const [near] = sharedSteps(series, [step(30.06), step(31.56)], 10, 1);
    expect(near!.voltage.timesS.at(-1)).toBe(40.75);
  });

  it("leaves out steps with fewer than two readings on either side of either series", () => {
    expect(sharedSteps(series, [step(0.3)], 10, 0.1)).toHaveLength(1);
    expect(sharedSteps(series, [step(0.2)], 10, 0.1)).toHaveLength(0);
    expect(sharedSteps(series, [step(99.4)], -20, 0.1)).toHaveLength(1);
    expect(sharedSteps(series, [step(99.6)], -20, 0.1)).toHaveLength(0);
    expect(sharedSteps(series, [step(30.06)], -29.9, 0.1)).toHaveLength(1);
    expect(sharedSteps(series, [step(30.06)], -30, 0.1)).toHaveLength(0);
    expect(sharedSteps(series, [step(30.06)], 200, 0.1)).toHaveLength(0);
  });

  it("keeps sixty steps at most, evenly", () => {
    const many = (count: number) =>
      sharedSteps(
        series,
        Array.from({ length: count }, (_, k) => step(5 + k * 1.5)),
        0,
        0.1,
      ).map(({ timeS }) => timeS);
    expect(many(60)).toHaveLength(60);
    expect(many(61)).toHaveLength(31);
    expect(many(61)[1]).toBeCloseTo(8, 9);
  });
});
