import { describe, expect, it } from "vitest";
import type { DetectedWindow } from "../../../src/core/detection/detect-in-windows.js";
import type { FoundTrain } from "../../../src/core/detection/search.js";
import { searchSeries } from "../../../src/core/detection/search-series.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { deepestBesideV, unmarkedDips, warningsOf } from "../../../src/core/detection/unmarked-dips.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const trainOf = (depthV: number, ...onTimes: readonly (readonly [number, number])[]) =>
  ({ depthV, onTimes: onTimes.map(([onsetS, releaseS]) => ({ onsetS, releaseS })) }) as unknown as FoundTrain;
const own = [
  { onsetS: 10, releaseS: 15 },
  { onsetS: 20, releaseS: 25 },
];

describe("deepestBesideV()", () => {
  it("is the depth of the deepest train of which some dip is not the load's own", () => {
    const trains = [trainOf(0.02, [40, 45]), trainOf(0.05, [10.9, 15.9], [30, 35]), trainOf(0.04, [10, 16.1])];
    expect(deepestBesideV({ trains, deepestV: 0.05 }, own)).toBe(0.05);
    expect(deepestBesideV({ trains: trains.slice(2), deepestV: 0.04 }, own)).toBe(0.04);
  });

  it("is nothing where the load's own dips are all that was found", () => {
    const trains = [trainOf(0.05, [10.9, 14.1], [20, 25.9])];
    expect(deepestBesideV({ trains, deepestV: 0.05 }, own)).toBe(0);
    expect(deepestBesideV({ trains: [], deepestV: 0 }, own)).toBe(0);
  });
});

const beats = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
const shape = plainShape(0.3);

/** Two readings a second with dips of these depths, and 10 mV of noise. */
function recorded(durationS: number, dips: readonly (readonly [readonly OnTime[], number])[], startS = 0): Recording {
  const random = randomGenerator(4);
  const timesS = Float64Array.from({ length: 2 * durationS }, (_, i) => startS + i / 2);
  const voltagesV = timesS.map(() => 24 + 0.01 * random.normal());
  for (const [onTimes, depthV] of dips) {
    dipTemplate(timesS, 0, onTimes, shape).forEach((v, i) => {
      voltagesV[i]! += depthV * v;
    });
  }
  return { timesS, voltagesV };
}
/** A judged stretch with loads of these fitted on-times; null for a load whose shape does not show. */
const windowOf = (recording: Recording, responses: Readonly<Record<string, readonly OnTime[] | null>>) =>
  ({
    detection: {
      design: { series: searchSeries(recording, null) },
      responses: Object.entries(responses).map(([id, onTimes]) => ({
        id,
        onTimes: onTimes ?? [],
        shape,
        refined: onTimes === null ? null : { onTimes, shape },
      })),
    },
  }) as unknown as DetectedWindow;
const search = (
  recording: Recording,
  windows: readonly DetectedWindow[],
  open: readonly string[],
  responded: readonly string[] = [],
) => {
  const of = (ids: readonly string[]) => (id: string) => ids.includes(id);
  return unmarkedDips(
    recording,
    windows,
    { isOpen: of(open), responded: of(responded) },
    {
      falseAlarmRate: 0.01,
      power: 0.95,
      lagS: 0.3,
      displayStepV: null,
      random: randomGenerator(5),
    },
  );
};

describe("unmarkedDips()", () => {
  const [marked, beside] = [beats(10, 20, 30), beats(50, 60, 70)];
  const both = recorded(90, [
    [marked, 0.3],
    [beside, 0.1],
  ]);
  const onsetsOf = (trains: readonly FoundTrain[]) =>
    trains.map(({ onTimes }) => onTimes.map(({ onsetS }) => Math.round(onsetS)));

  it("looks for none where every load is settled", () => {
    expect(search(both, [windowOf(both, { a: marked, b: null })], ["c"])).toEqual({ trains: [], deepestV: 0 });
  });

  it("finds dips beside those of the loads that responded, and how deep the deepest is", () => {
    const found = search(both, [windowOf(both, { a: marked, b: null })], ["b"]);
    expect(onsetsOf(found.trains)).toEqual([[50, 60, 70]]);
    expect(Math.abs(found.deepestV - 0.1)).toBeLessThan(0.02);
    expect(found.deepestV).toBe(found.trains[0]!.depthV);
    expect(warningsOf(found)).toEqual([{ code: "dip-without-mark", onsetS: found.trains[0]!.onTimes[0]!.onsetS }]);
  });

  it("leaves out those at the marks of a load that responded, whose shape did not show", () => {
    const faint = windowOf(both, { a: marked, b: null });
    const c = { id: "c", refined: null, shape, onTimes: beside };
    (faint.detection.responses as unknown[]).push(c);
    expect(onsetsOf(search(both, [faint], ["b"]).trains)).toEqual([[50, 60, 70]]);
    expect(search(both, [faint], ["b"], ["a", "c"])).toEqual({ trains: [], deepestV: 0 });
    (faint.detection.responses as unknown[])[2] = { ...c, onTimes: beats(50, 60, 71.5) };
    expect(onsetsOf(search(both, [faint], ["b"], ["a", "c"]).trains)).toEqual([[50, 60, 70]]);
  });

  it("leaves out faint ones a second or so aside of marks that explain them, if that load responded", () => {
    const long = (...onsets: number[]) => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const [real, noted] = [long(60, 80, 100), long(61.05, 81.05, 101.05)];
    for (const [depthV, isLeftOut] of [
      [0.013, true],
      [0.1, false],
    ] as const) {
      const made = recorded(200, [[real, depthV]]);
      const windows = [windowOf(made, { a: null, b: null })];
      Object.assign(windows[0]!.detection.responses[0]!, { onTimes: noted });
      expect(search(made, windows, ["a"]).trains, `${depthV} V`).toHaveLength(1);
      expect(search(made, windows, ["a"], ["b"]).trains, `${depthV} V`).toHaveLength(1);
      expect(search(made, windows, ["a"], ["a"]).trains, `${depthV} V`).toHaveLength(isLeftOut ? 0 : 1);
    }
  });

  it("finds those of a load whose shape did not show too, the deepest first", () => {
    const found = search(both, [windowOf(both, { a: null, b: null })], ["b"]);
    expect(onsetsOf(found.trains)).toEqual([
      [10, 20, 30],
      [50, 60, 70],
    ]);
    expect(found.deepestV).toBe(Math.max(...found.trains.map(({ depthV }) => depthV)));
    expect(Math.abs(found.deepestV - 0.3)).toBeLessThan(0.03);
  });

  it("looks through the whole of half an hour, and only through the judged stretches of a longer recording", () => {
    for (const [durationS, count] of [
      [1800, 1],
      [1802, 0],
    ] as const) {
      const startS = 500;
      const dips = beats(1000, 1010, 1020).map(({ onsetS, releaseS }) => ({
        onsetS: onsetS + startS,
        releaseS: releaseS + startS,
      }));
      const long = recorded(durationS, [[dips, 0.2]], startS);
      const part = { timesS: long.timesS.slice(0, 160), voltagesV: long.voltagesV.slice(0, 160) };
      expect(search(long, [windowOf(part, { a: null })], ["a"]).trains, `${durationS} s`).toHaveLength(count);
    }
    const later = recorded(1900, [[beats(1000, 1010, 1020), 0.2]]);
    const [from, to] = [1600, 2400];
    const part = { timesS: later.timesS.slice(from, to), voltagesV: later.voltagesV.slice(from, to) };
    expect(onsetsOf(search(later, [windowOf(part, { a: null })], ["a"]).trains)).toEqual([[1000, 1010, 1020]]);
  });
});
