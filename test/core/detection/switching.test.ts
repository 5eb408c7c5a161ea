import { describe, expect, it } from "vitest";
import { findSwitching, type SwitchingOptions } from "../../../src/core/detection/switching.js";
import type { LoadProfile } from "../../../src/core/profile.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const load = (id: string, more: Partial<LoadProfile> = {}): LoadProfile => ({
  id,
  kind: "resistive",
  reference: false,
  ...more,
});
const timesS = Float64Array.from({ length: 1000 }, (_, i) => i / 10);
const still: Recording = { timesS, voltagesV: timesS.map(() => 24) };
const optionsOf = (changed: Partial<SwitchingOptions> = {}): SwitchingOptions => ({
  profile: null,
  displayStepV: null,
  falseAlarmRate: 0.01,
  power: 0.95,
  random: randomGenerator(1),
  ...changed,
});
const marksOf = (id: string | null, ...times: readonly (readonly [number, number])[]) =>
  times.flatMap(([on, off]) => [
    { timeS: on, load: id, action: "on" as const },
    { timeS: off, load: id, action: "off" as const },
  ]);

describe("findSwitching(marks)", () => {
  it("takes each load's times from its marks, with what the profile says of it", () => {
    const heat = load("heat", { name: "Probe heat" });
    const found = findSwitching(
      still,
      optionsOf({ profile: { loads: [heat, load("lamp")] }, marks: marksOf("heat", [10, 15], [20, 25]) }),
    );
    expect(found).toEqual({
      mode: "marked",
      loads: [
        {
          id: "heat",
          name: "Probe heat",
          profile: heat,
          onTimes: [
            { onsetS: 10, releaseS: 15 },
            { onsetS: 20, releaseS: 25 },
          ],
          timeUncertaintyS: 0.2,
          twins: [],
          searched: null,
        },
      ],
      untouched: [load("lamp")],
      dischargeSign: null,
      assumptions: [{ code: "switching-from-marks", markCount: 4, jitterS: 0.2 }],
    });
    const unknown = findSwitching(still, optionsOf({ marks: marksOf("other", [10, 15]) }));
    expect(unknown.loads[0]).toMatchObject({ id: "other", name: "other", profile: null });
    const nameless = findSwitching(
      still,
      optionsOf({ profile: { loads: [load("lamp")] }, marks: marksOf("lamp", [10, 15]) }),
    );
    expect(nameless.loads[0]).toMatchObject({ id: "lamp", name: "lamp" });
  });

  it("knows times as well as a hand and the stamps of the log allow", () => {
    const uncertainty = (clockResolutionS: number | undefined, markUncertaintyS?: number) =>
      findSwitching(
        { ...still, ...(clockResolutionS === undefined ? {} : { clockResolutionS }) },
        optionsOf({ marks: marksOf("a", [10, 15]), ...(markUncertaintyS === undefined ? {} : { markUncertaintyS }) }),
      ).loads[0]!.timeUncertaintyS;
    expect(uncertainty(undefined)).toBe(0.2);
    expect(uncertainty(1)).toBeCloseTo(Math.hypot(0.2, 1 / Math.sqrt(12)), 12);
    expect(uncertainty(undefined, 0.05)).toBe(0.05);
  });

  it("gives marks without a load to the only one of the profile, else to nobody", () => {
    const marks = marksOf(null, [10, 15], [20, 25]);
    const only = findSwitching(still, optionsOf({ profile: { loads: [load("heat")] }, marks }));
    expect(only.loads[0]).toMatchObject({ id: "heat", profile: load("heat") });
    expect(only.assumptions).toContainEqual({ code: "load-by-elimination", load: "heat" });
    const none = findSwitching(still, optionsOf({ profile: { loads: [load("a"), load("b")] }, marks }));
    expect(none.loads[0]).toMatchObject({ id: "switched-load", name: "switched-load", profile: null });
    expect(none.assumptions).toContainEqual({ code: "load-not-told", dipCount: 2 });
    expect(none.untouched.map(({ id }) => id)).toEqual(["a", "b"]);
    const told = findSwitching(
      still,
      optionsOf({ profile: { loads: [load("heat")] }, marks: marksOf("heat", [10, 15]) }),
    );
    expect(told.assumptions).toHaveLength(1);
  });

  it("says which marks it could not use", () => {
    const found = findSwitching(still, optionsOf({ marks: marksOf("a", [10, 15], [200, 205]) }));
    expect(found.assumptions.filter(({ code }) => code === "mark-ignored")).toHaveLength(2);
  });

  it("takes loads for one that are on together for more than three quarters of the time that either is", () => {
    const both = (second: readonly [number, number]) => {
      const profile = { loads: [load("a"), load("b")] };
      const marks = [...marksOf("a", [10, 20]), ...marksOf("b", second)];
      return findSwitching(still, optionsOf({ profile, marks })).loads;
    };
    // 7.6 of 10 s are 76 %.
    expect(both([12.4, 20])).toMatchObject([{ id: "a", twins: [{ id: "b" }] }]);
    expect(both([12.6, 20])).toMatchObject([
      { id: "a", twins: [] },
      { id: "b", twins: [] },
    ]);
    // Shifted by 1.4 s: 8.6 s in common of 11.4 s; by 1.5 s: 8.5 of 11.5 s.
    expect(both([11.4, 21.4])).toHaveLength(1);
    expect(both([11.5, 21.5])).toHaveLength(2);
    expect(both([30, 40])).toHaveLength(2);
    const unnamed = [...marksOf("a", [10, 20]), ...marksOf("stranger", [10, 20])];
    expect(findSwitching(still, optionsOf({ profile: { loads: [load("a")] }, marks: unnamed })).loads).toMatchObject([
      { id: "a", twins: [] },
    ]);
  });

  it("adds the loads that share a switch, unless they were marked themselves", () => {
    const loads = [load("a", { switch: "S" }), load("b", { switch: "S" }), load("c", { switch: "T" }), load("d")];
    const found = findSwitching(still, optionsOf({ profile: { loads }, marks: marksOf("a", [10, 15]) }));
    expect(found.loads[0]!.twins.map(({ id }) => id)).toEqual(["b"]);
    expect(found.untouched.map(({ id }) => id)).toEqual(["c", "d"]);
    const apart = findSwitching(
      still,
      optionsOf({ profile: { loads }, marks: [...marksOf("a", [10, 15]), ...marksOf("b", [30, 35])] }),
    );
    expect(apart.loads.map(({ twins }) => twins)).toEqual([[], []]);
    const free = findSwitching(still, optionsOf({ profile: { loads }, marks: marksOf("d", [10, 15]) }));
    expect(free.loads[0]!.twins).toEqual([]);
  });
});

describe("findSwitching(measured current)", () => {
  /** A clamp that reads 2 A and more while loads are on; the voltage falls by 10 mV for each ampere. */
  function measured(loads: readonly (readonly [number, number, number])[], sign = 1): Recording {
    const drawn = (t: number) => loads.reduce((sum, [on, off, amperes]) => sum + (t >= on && t < off ? amperes : 0), 2);
    const currentsA = timesS.map((t, i) => sign * drawn(t) + 0.002 * ((i * 7) % 5));
    return { timesS, voltagesV: timesS.map((t) => 24 - 0.01 * drawn(t)), current: { timesS, currentsA } };
  }

  it("tells loads apart by their size, in the order of their first switching", () => {
    const found = findSwitching(
      measured([
        [10, 15, 8],
        [30, 35, 3],
        [50, 55, 8.6],
      ]),
      optionsOf(),
    );
    expect(found).toMatchObject({ mode: "current", dischargeSign: 1, untouched: [] });
    expect(found.loads.map(({ id, onTimes }) => [id, onTimes.map(({ onsetS }) => Math.round(onsetS))])).toEqual([
      ["load-of-8.3-A", [10, 50]],
      ["load-of-3.0-A", [30]],
    ]);
    expect(found.loads[0]).toMatchObject({ name: "load-of-8.3-A", profile: null, twins: [], searched: null });
    expect(found.loads[0]!.timeUncertaintyS).toBeCloseTo(0.1 / Math.sqrt(12), 6);
    expect(found.assumptions).toEqual([
      { code: "switching-from-current", stepCount: 3 },
      { code: "discharge-sign", sign: 1 },
    ]);
    expect(findSwitching(measured([[10, 15, 8]], -1), optionsOf()).dischargeSign).toBe(-1);
  });

  it("puts the switchings of one load in the order of time, whichever drew more", () => {
    const { loads } = findSwitching(
      measured([
        [10, 15, 8.6],
        [30, 35, 8],
        [50, 55, 8.3],
      ]),
      optionsOf(),
    );
    expect(loads.map(({ onTimes }) => onTimes.map(({ onsetS }) => Math.round(onsetS)))).toEqual([[10, 30, 50]]);
  });

  it("knows a load's times as well as the worst known of them: evenly anywhere between two readings", () => {
    const recording = measured([
      [10, 15, 8],
      [30, 35, 8],
      [50, 55, 8],
    ]);
    // No reading of the clamp from 29.6 s to 30 s.
    const kept = (series: Float64Array) => series.filter((_, i) => i <= 296 || i >= 300);
    const current = { timesS: kept(timesS), currentsA: kept(recording.current!.currentsA) };
    const { loads } = findSwitching({ ...recording, current }, optionsOf());
    expect(loads.map(({ onTimes }) => onTimes.length)).toEqual([3]);
    expect(loads[0]!.timeUncertaintyS).toBeCloseTo(0.4 / Math.sqrt(12), 6);
  });

  it("keeps a cold and a warm heater together: up to a fifth apart", () => {
    const count = (second: number) =>
      findSwitching(
        measured([
          [10, 15, 5],
          [30, 35, second],
        ]),
        optionsOf(),
      ).loads.length;
    expect(count(5.9)).toBe(1);
    expect(count(6.1)).toBe(2);
  });

  it("says how many changes charged the battery and were left out", () => {
    // Less than at rest for five seconds: a charger.
    const found = findSwitching(
      measured([
        [10, 15, 8],
        [30, 35, 8],
        [50, 55, 8],
        [70, 75, -6],
      ]),
      optionsOf(),
    );
    expect(found.loads.map(({ onTimes }) => onTimes.length)).toEqual([3]);
    expect(found.assumptions.map(({ code }) => code)).toEqual([
      "switching-from-current",
      "discharge-sign",
      "charge-steps-left-out",
    ]);
  });

  it("calls a load by its size, and by a number where that is another's name already", () => {
    const named = (...ids: readonly string[]) => {
      const accepted = [
        [7, 9],
        [13, 15],
      ] as const;
      const profile = { loads: ids.map((id, k) => load(id, { acceptA: accepted[k]! })) };
      const times = [
        [10, 15, 8],
        [30, 35, 14],
        [50, 55, 3],
      ] as const;
      return findSwitching(measured(times), optionsOf({ profile })).loads.map(({ id }) => id);
    };
    expect(named("a", "b")).toEqual(["a", "b", "load-of-3.0-A"]);
    expect(named("load-of-3.0-A", "b")).toEqual(["load-of-3.0-A", "b", "load-of-3.0-A-2"]);
    expect(named("load-of-3.0-A", "load-of-3.0-A-2")).toEqual(["load-of-3.0-A", "load-of-3.0-A-2", "load-of-3.0-A-3"]);
  });

  it("gives a size to the one load of the profile that accepts it, each load once", () => {
    const profile = { loads: [load("heat", { acceptA: [7, 9] }), load("lamp", { acceptA: [1, 2] })] };
    const found = findSwitching(
      measured([
        [10, 15, 8],
        [30, 35, 3],
      ]),
      optionsOf({ profile }),
    );
    expect(found.loads.map(({ id, profile: own }) => [id, own?.id])).toEqual([
      ["heat", "heat"],
      ["load-of-3.0-A", undefined],
    ]);
    expect(found.assumptions).toContainEqual({ code: "load-by-current", load: "heat", currentA: expect.closeTo(8, 2) });
    expect(found.untouched.map(({ id }) => id)).toEqual(["lamp"]);
    const two = { loads: [load("a", { acceptA: [7, 9] }), load("b", { acceptA: [8, 12] })] };
    expect(findSwitching(measured([[10, 15, 8.5]]), optionsOf({ profile: two })).loads[0]!.profile).toBeNull();
    const wide = { loads: [load("a", { acceptA: [5, 12] })] };
    const twice = findSwitching(
      measured([
        [10, 15, 6],
        [30, 35, 11],
      ]),
      optionsOf({ profile: wide }),
    ).loads;
    expect(twice.map(({ id }) => id)).toEqual(["a", "load-of-11-A"]);
  });
});

describe("findSwitching(nothing told)", () => {
  it("numbers what it found where that is several trains, and gives none of them to the profile's only load", () => {
    const random = randomGenerator(5);
    const on = (from: number, lengthS: number, periodS: number) => (t: number) =>
      t >= from && t < from + 3 * periodS && (t - from) % periodS < lengthS;
    const [small, large] = [on(10, 4, 8), on(50, 7, 14)];
    const voltagesV = timesS.map((t) => 24 - (small(t) ? 0.2 : 0) - (large(t) ? 0.8 : 0) + 0.01 * random.normal());
    const { loads, untouched, assumptions } = findSwitching(
      { timesS, voltagesV },
      optionsOf({ profile: { loads: [load("a")] } }),
    );
    expect(loads.map(({ id, name, profile }) => [id, name, profile])).toEqual([
      ["switched-load-1", "switched-load-1", null],
      ["switched-load-2", "switched-load-2", null],
    ]);
    expect(untouched).toEqual([load("a")]);
    expect(assumptions).toContainEqual({ code: "load-not-told", dipCount: 6 });
  });

  it("gives one train to the profile's only load, by its name, and to nobody where there are two", () => {
    const random = randomGenerator(5);
    const isOn = (t: number) => [30, 42, 54].some((onsetS) => t >= onsetS && t < onsetS + 6);
    const recording = { timesS, voltagesV: timesS.map((t) => 24 - (isOn(t) ? 0.3 : 0) + 0.01 * random.normal()) };
    const found = (loads: readonly LoadProfile[]) => findSwitching(recording, optionsOf({ profile: { loads } }));
    const named = found([load("a", { name: "Probe heat" })]);
    expect(named.loads.map(({ id, name, profile }) => [id, name, profile?.id])).toEqual([["a", "Probe heat", "a"]]);
    expect(named.loads[0]!.onTimes.map(({ onsetS }) => Math.round(onsetS))).toEqual([30, 42, 54]);
    expect(named.loads[0]!.searched!.pValue).toBeLessThan(0.01);
    expect(named.untouched).toEqual([]);
    expect(named.assumptions).toEqual([{ code: "switching-searched" }, { code: "load-by-elimination", load: "a" }]);
    expect(found([load("a")]).loads[0]).toMatchObject({ id: "a", name: "a" });
    const two = found([load("a"), load("b")]);
    expect(two.loads.map(({ id, name, profile }) => [id, name, profile])).toEqual([
      ["switched-load", "switched-load", null],
    ]);
    expect(two.untouched).toHaveLength(2);
    expect(two.assumptions).toContainEqual({ code: "load-not-told", dipCount: 3 });
  });

  it("tells the best it met and its chance where nothing was found, without a word on dips", () => {
    const random = randomGenerator(6);
    const quiet = { timesS, voltagesV: timesS.map(() => 24 + 0.01 * random.normal()) };
    const { loads, assumptions, searchLimits } = findSwitching(quiet, optionsOf());
    expect(loads).toHaveLength(1);
    expect(loads[0]).toMatchObject({ id: "switched-load", profile: null });
    expect(loads[0]!.searched!.pValue).toBeGreaterThan(0.01);
    expect(assumptions).toEqual([{ code: "switching-searched" }]);
    expect(searchLimits!.minimumDetectableDepthV).toBeGreaterThan(searchLimits!.criticalDepthV!);
  });

  it("says that a handful of readings cannot show a switching", () => {
    const few = { timesS: timesS.slice(0, 30), voltagesV: still.voltagesV.slice(0, 30) };
    expect(findSwitching(few, optionsOf({ profile: { loads: [load("a"), load("b")] } }))).toEqual({
      mode: "searched",
      loads: [],
      untouched: [load("a"), load("b")],
      dischargeSign: null,
      noiseRatio: 1,
      searchLimits: { criticalDepthV: null, minimumDetectableDepthV: null, limitsOf: null },
      assumptions: [
        { code: "switching-searched" },
        { code: "not-identifiable", what: "depth", load: null, why: "sampled-too-slowly" },
      ],
    });
    expect(findSwitching(few, optionsOf({ profile: { loads: [load("a")] } })).assumptions).toContainEqual({
      code: "load-by-elimination",
      load: "a",
    });
  });
});
