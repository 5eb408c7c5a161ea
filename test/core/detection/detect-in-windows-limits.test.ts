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

  it("doubts a load of which one stretch dips on in its rhythm", () => {
    const onTimes = beats(40, 50, 60, 400, 410, 420);
    const beyond = beats(380, 390, 430, 440);
    const found = (dips: readonly OnTime[]) =>
      detectInWindows(recorded(every(0.25, 0, 480), dips), switching(switched("a", onTimes)), context).loads[0]!
        .rhythmGoesOn;
    expect(found([...onTimes, ...beyond])).toBe(true);
    expect(found(onTimes)).toBe(false);
  });
});
