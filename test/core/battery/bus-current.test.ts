import { describe, expect, it } from "vitest";
import { baseCurrent, busCurrent } from "../../../src/core/battery/bus-current.js";
import type { LoadProfile } from "../../../src/core/profile.js";

const load = (id: string, kind: LoadProfile["kind"], powerW: number): LoadProfile => ({
  id,
  kind,
  reference: false,
  rated: { powerW, atV: 24, toleranceFraction: 0 },
});
const busV = { value: 24, u: 0.5 };

describe("busCurrent()", () => {
  // Hand reckoning: 100 W and 200 W at 24 V are 12.5 A; both rise by 1/24 of theirs a volt, together.
  it("adds up what a voltage common to all loads leaves open", () => {
    const { value, u } = busCurrent({ loads: [load("a", "heater", 100), load("b", "resistive", 200)] }, null, busV)!;
    expect(value).toBeCloseTo(12.5, 9);
    expect(u).toBeCloseTo((0.5 * 12.5) / 24, 6);
  });

  it("lets a constant power make up for a resistance, and leaves a constant current alone", () => {
    const loads = [load("a", "resistive", 240), load("b", "constant-power", 240), load("c", "constant-current", 240)];
    const { value, u } = busCurrent({ loads }, null, busV)!;
    expect(value).toBeCloseTo(30, 9);
    expect(u).toBeLessThan(1e-4);
  });

  it("counts the measured base with its own uncertainty", () => {
    const base = { value: 5, u: 0.3 };
    const { value, u, baseMeasured } = busCurrent({ loads: [load("a", "heater", 96)] }, base, busV)!;
    expect(value).toBeCloseTo(9, 9);
    expect(u).toBeCloseTo(Math.hypot(0.3, (0.5 * 4) / 24), 6);
    expect(baseMeasured).toBe(true);
  });

  it("is not told where a load has no rating", () => {
    const { rated: _rated, ...unrated } = load("a", "heater", 96);
    expect(busCurrent({ loads: [unrated] }, null, busV)).toBeNull();
  });

  it("is that of the base alone, of the loads alone, or nothing where nothing is told", () => {
    expect(busCurrent(null, { value: 5, u: 0.3 }, busV)).toEqual({ value: 5, u: 0.3, baseMeasured: true });
    expect(busCurrent({ loads: [] }, { value: 5, u: 0.3 }, busV)).toMatchObject({ value: 5 });
    expect(busCurrent(null, null, busV)).toBeNull();
    expect(busCurrent({ loads: [] }, null, busV)).toBeNull();
    expect(busCurrent({ loads: [load("a", "heater", 96)] }, null, busV)).toMatchObject({ baseMeasured: false });
  });

  it("counts each rating's tolerance by itself, 5 % where none is told", () => {
    const { toleranceFraction: _, ...untold } = load("a", "constant-current", 240).rated!;
    const loads = [
      { ...load("a", "constant-current", 240), rated: untold },
      { ...load("b", "constant-current", 120), rated: { powerW: 120, atV: 24, toleranceFraction: 0.2 } },
    ];
    // 10 A +/- 5 % and 5 A +/- 20 %, rectangular: 0.5 and 1 A over root three.
    expect(busCurrent({ loads }, null, busV)!.u).toBeCloseTo(Math.hypot(0.5, 1) / Math.sqrt(3), 9);
  });

  it("falls with the voltage at constant power", () => {
    const { value, u } = busCurrent({ loads: [load("a", "constant-power", 240)] }, null, { value: 20, u: 1 })!;
    expect(value).toBeCloseTo(12, 9);
    // dI/dV = -P / V^2.
    expect(u).toBeCloseTo(240 / 400, 5);
  });
});

describe("baseCurrent()", () => {
  const timesS = Float64Array.from({ length: 200 }, (_, i) => i / 4);
  const recording = (currentsA: Float64Array) => ({ timesS, voltagesV: timesS, current: { timesS, currentsA } });
  const onTimes = [{ onsetS: 10, releaseS: 20 }];

  it("is the median of the readings outside the on-times, and the clamp's zero and 1 % beside it", () => {
    const base = baseCurrent(recording(timesS.map((t) => (t >= 10 && t < 20 ? 30 : 4))), onTimes)!;
    expect(base.value).toBe(4);
    expect(base.u).toBeCloseTo(Math.hypot(0.2, 0.04), 12);
    expect(baseCurrent(recording(timesS.map(() => -4)), [])!.value).toBe(4);
  });

  it("leaves out half a second before an on-time and one second after it", () => {
    // Readings four a second; all are 9 A but for those that the margins cover: the median tells which were taken.
    const only = (fromS: number, toS: number) =>
      baseCurrent(recording(timesS.map((t) => (t >= fromS && t < toS ? 9 : 1))), [
        { onsetS: -100, releaseS: fromS - 1 },
        { onsetS: toS + 0.5, releaseS: 100 },
      ]);
    expect(only(10, 12)!.value).toBe(9);
    // One reading more before the first margin ends or after the second begins would be of 1 A; they are left out, so that
    // an on-time over everything leaves nothing.
    expect(baseCurrent(recording(timesS.map(() => 4)), [{ onsetS: 0.5, releaseS: 48.8 }])).toBeNull();
    expect(baseCurrent(recording(timesS.map(() => 4)), [{ onsetS: 0.6, releaseS: 48.8 }])).not.toBeNull();
    expect(baseCurrent(recording(timesS.map(() => 4)), [{ onsetS: 0.5, releaseS: 48.7 }])).not.toBeNull();
  });

  it("of a long log is that of its readings, and nothing where none was measured", () => {
    const many = Float64Array.from({ length: 60_000 }, (_, i) => i / 100);
    const long = { timesS: many, currentsA: many.map((_, i) => (i % 3 === 1 ? 50 : 4)) };
    expect(baseCurrent({ timesS, voltagesV: timesS, current: long }, [])!.value).toBe(4);
    expect(baseCurrent({ timesS, voltagesV: timesS }, onTimes)).toBeNull();
    const empty = { timesS: new Float64Array(0), currentsA: new Float64Array(0) };
    expect(baseCurrent({ timesS, voltagesV: timesS, current: empty }, onTimes)).toBeNull();
  });
});
