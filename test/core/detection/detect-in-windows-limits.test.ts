import { describe, expect, it } from "vitest";
import { detectInWindows } from "../../../src/core/detection/detect-in-windows.js";
import type { SwitchedLoad, Switching } from "../../../src/core/detection/switching.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import type { LoadProfile } from "../../../src/core/profile.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const beats = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
const switched = (id: string, onTimes: readonly OnTime[], kind: LoadProfile["kind"] | null = null): SwitchedLoad => ({
  id,
  name: id,
  profile: kind === null ? null : { id, kind, reference: false },
  onTimes,
  timeUncertaintyS: 0.1,
  twins: [],
  searched: null,
});
const switching = (...loads: SwitchedLoad[]): Switching => ({
  mode: "marked",
  loads,
  untouched: [],
  dischargeSign: null,
  assumptions: [],
});
const context = { meter: { lagS: 0.3 }, displayStepV: null, ownNoiseV: 0, random: randomGenerator(2) };
const shape = { shiftS: 0, lagS: 0.3, inrush: 0, settleS: 3, polarization: 0.1, polarizationS: 20 };

/** Readings at these times with 5 mV of noise and dips of 0.2 V. */
function recorded(timesS: Float64Array, onTimes: readonly OnTime[], inrush = 0): Recording {
  const random = randomGenerator(3);
  const dips = dipTemplate(timesS, 0, onTimes, { ...shape, inrush });
  return { timesS, voltagesV: timesS.map((_, i) => 24 + 0.2 * dips[i]! + 0.005 * random.normal()) };
}
const every = (intervalS: number, fromS: number, toS: number) =>
  Float64Array.from({ length: Math.round((toS - fromS) / intervalS) }, (_, i) => fromS + i * intervalS);

describe("detectInWindows(): limits and counts", () => {
  it("judges a stretch of twelve readings and none of eleven", () => {
    const onTimes = [{ onsetS: 8, releaseS: 14 }];
    const of = (count: number) =>
      detectInWindows(recorded(every(2, 0, 2 * count), onTimes), switching(switched("a", onTimes)), context);
    expect(of(11).windows).toHaveLength(0);
    expect(of(12).windows).toHaveLength(1);
    expect(of(11).loads).toEqual([]);
  });

  it("counts the readings that were averaged, wherever their stretch stands", () => {
    const onTimes = beats(40, 400);
    // Slow around the first switching, fast around the second.
    const timesS = Float64Array.of(...every(0.5, 0, 330), ...every(0.04, 330, 470));
    const { windows, assumptions } = detectInWindows(
      recorded(timesS, onTimes),
      switching(switched("a", onTimes)),
      context,
    );
    expect(windows.map(({ detection }) => detection.design.series.blockS > 0)).toEqual([false, true]);
    const fast = windows[1]!.detection.design.series;
    const count = timesS.filter((t) => t >= fast.timesS[0]! - 0.2 && t <= fast.timesS.at(-1)! + 0.2).length;
    const told = assumptions.find(({ code }) => code === "block-means");
    if (told?.code !== "block-means") throw new Error("not told");
    expect(told.blockS).toBe(fast.blockS);
    // All of them, but for a block at either end.
    expect(Math.abs(told.readingCount - count)).toBeLessThanOrEqual(20);
  });

  it("warns once of what of the profile two stretches contradict, and for each load", () => {
    const onTimes = beats(40, 50, 400, 410);
    const other = beats(430, 440);
    const recording = recorded(every(0.25, 0, 500), [...onTimes, ...other], 1.5);
    const { warnings } = detectInWindows(
      recording,
      switching(switched("a", onTimes, "resistive"), switched("b", other, "resistive")),
      context,
    );
    const told = warnings.filter(({ code }) => code === "profile-contradicted");
    expect(told).toEqual([
      { code: "profile-contradicted", load: "a", what: "kind" },
      { code: "profile-contradicted", load: "b", what: "kind" },
    ]);
  });

  it("tells the noise of the stretch with most readings", () => {
    const onTimes = beats(40, 400, 415, 430);
    const random = randomGenerator(6);
    const timesS = every(0.5, 0, 500);
    const dips = dipTemplate(timesS, 0, onTimes, shape);
    const voltagesV = timesS.map((t, i) => 24 + 0.2 * dips[i]! + (t < 200 ? 0.02 : 0.005) * random.normal());
    const { windows, noise } = detectInWindows({ timesS, voltagesV }, switching(switched("a", onTimes)), context);
    const lengths = windows.map(({ detection }) => detection.design.series.timesS.length);
    expect(lengths[1]).toBeGreaterThan(lengths[0]!);
    expect(noise.whiteV).toBe(windows[1]!.detection.fit.noise.whiteV);
    expect(noise.walkVPerSqrtS).toBe(windows[1]!.detection.fit.noise.walkVPerSqrtS);
  });

  it("doubts a load of which one stretch dips on in its rhythm, and none beside it", () => {
    const onTimes = beats(40, 50, 60, 400, 410, 420);
    const beyond = beats(380, 390, 430, 440);
    const other = beats(470, 482);
    const found = (dips: readonly OnTime[]) =>
      detectInWindows(
        recorded(every(0.25, 0, 520), [...dips, ...other]),
        switching(switched("a", onTimes), switched("b", other)),
        context,
      ).loads.map(({ rhythmGoesOn }) => rhythmGoesOn);
    expect(found([...onTimes, ...beyond])).toEqual([true, false]);
    expect(found(onTimes)).toEqual([false, false]);
  });

  it("says that a load went astray where half of its switchings did, over all stretches: not five of eleven", () => {
    // Fifteen seconds on each time; those astray came back after four.
    const long = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 15 }));
    const early = long(40, 100, 160, 640, 700).map(({ onsetS }) => ({ onsetS, releaseS: onsetS + 4 }));
    const strayed = (asMarked: readonly OnTime[]) => {
      const onTimes = [...early.map(({ onsetS }) => ({ onsetS, releaseS: onsetS + 15 })), ...asMarked];
      const marked = onTimes.toSorted((a, b) => a.onsetS - b.onsetS);
      const recording = recorded(every(0.5, 0, 900), [...early, ...asMarked]);
      const { windows, loads } = detectInWindows(recording, switching(switched("a", marked)), context);
      expect(windows.map(({ strays }) => strays.map(({ onsetS }) => onsetS).toSorted((a, b) => a - b))).toEqual([
        [40, 100, 160],
        [640, 700],
      ]);
      return loads[0]!.strayed;
    };
    const others = long(70, 130, 190, 670, 730, 760);
    expect(strayed(others)).toBe(false);
    expect(strayed(others.slice(0, 5))).toBe(true);
  });

  /** Readings in 5 mV of noise with dips of these depths. */
  function dipped(parts: readonly (readonly [OnTime, number])[], endS = 200): Recording {
    const random = randomGenerator(8);
    const timesS = every(0.5, 0, endS);
    const dips = parts.map(([onTime, depthV]) => dipTemplate(timesS, 0, [onTime], shape).map((v) => depthV * v));
    return { timesS, voltagesV: timesS.map((_, i) => 24 + sumAt(dips, i) + 0.005 * random.normal()) };
  }
  const sumAt = (columns: readonly Float64Array[], i: number) => columns.reduce((sum, column) => sum + column[i]!, 0);

  it("lets two or three switchings that differ not vouch for each other where one did not end as marked, nor else", () => {
    const marked = [40, 75, 110, 145].map((onsetS) => ({ onsetS, releaseS: onsetS + 15 }));
    const disagree = (depthsV: readonly number[], firstOnS: number) => {
      const parts = depthsV.map((depthV, k) => {
        const { onsetS, releaseS } = marked[k]!;
        return [{ onsetS, releaseS: k === 0 ? onsetS + firstOnS : releaseS }, depthV] as const;
      });
      const told = switching(switched("a", marked.slice(0, depthsV.length)));
      const { windows, loads } = detectInWindows(dipped(parts), told, context);
      expect(windows[0]!.strays).toHaveLength(firstOnS < 15 ? 1 : 0);
      return loads[0]!.edgesDisagree;
    };
    expect(disagree([0.2, 0.2, 0.3], 4)).toBe(true);
    expect(disagree([0.2, 0.2, 0.3], 15)).toBe(false);
    expect(disagree([0.2, 0.2, 0.2], 4)).toBe(false);
    expect(disagree([0.2, 0.2, 0.3, 0.2], 4)).toBe(false);
  });

  it("says of each load for itself whether only one edge or one half of its on-times shows", () => {
    // Not marked by hand, so that nothing else is looked for than what was said.
    const told = {
      ...switching(switched("a", beats(40, 60)), switched("b", beats(100, 120))),
      mode: "searched" as const,
    };
    const found = (ofA: readonly OnTime[]) => {
      const parts = [...ofA, ...beats(100, 120)].map((onTime) => [onTime, 0.2] as const);
      return detectInWindows(dipped(parts), told, context).loads.map(({ response, edgesDisagree }) => [
        response.id,
        edgesDisagree,
      ]);
    };
    const none = [
      ["a", false],
      ["b", false],
    ];
    const first = [["a", true], none[1]];
    expect(found(beats(40, 60))).toEqual(none);
    // Down in the first half alone, and down for good from each onset on.
    expect(found(beats(40, 60).map(({ onsetS }) => ({ onsetS, releaseS: onsetS + 2.5 })))).toEqual(first);
    expect(found(beats(40, 60).map(({ onsetS }) => ({ onsetS, releaseS: 250 })))).toEqual(first);
  });

  it("says so too where only one of two stretches shows it", () => {
    const marked = beats(40, 60, 600, 620);
    const told = { ...switching(switched("a", marked)), mode: "searched" as const };
    const found = (halves: number) => {
      const parts = marked.map(
        ({ onsetS }, k) => [{ onsetS, releaseS: onsetS + (k < halves ? 2.5 : 5) }, 0.2] as const,
      );
      const { windows, loads } = detectInWindows(dipped(parts, 700), told, context);
      expect(windows).toHaveLength(2);
      return loads[0]!.edgesDisagree;
    };
    expect([found(0), found(2)]).toEqual([false, true]);
  });
});
