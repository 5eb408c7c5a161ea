import { describe, expect, it } from "vitest";
import { analyze, type LiveOptions, liveAnalysis, type SwitchingMark } from "../../../src/core/index.js";

/** Plain readings at 4 Hz: 24 V with a small regular unrest, 0.3 V less while a load is on. */
function readings(fromS: number, toS: number, onTimes: readonly (readonly [number, number])[] = []) {
  const from = Math.round(fromS * 4);
  const timesS = Float64Array.from({ length: Math.round(toS * 4) - from }, (_, i) => (from + i) / 4);
  const isOn = (t: number) => onTimes.some(([on, off]) => t >= on && t < off);
  const voltagesV = timesS.map((t, i) => 24 + 0.01 * (((from + i) * 7) % 11) - (isOn(t) ? 0.3 : 0));
  return { timesS, voltagesV };
}
const mark = (timeS: number, action: "on" | "off", load: string | null = "a"): SwitchingMark => ({
  timeS,
  action,
  load,
});
const profile = { loads: [{ id: "a", kind: "resistive" as const, reference: false }] };

/** Everything pushed second by second; the times up to which full judgements reached, in order. */
function judgedTimes(options: LiveOptions, marks: readonly SwitchingMark[], durationS: number): number[] {
  const live = liveAnalysis(options);
  for (const one of marks) live.mark(one);
  const times: number[] = [];
  for (let s = 0; s < durationS; s++) {
    const toS = live.push(
      readings(s, s + 1, [
        [10, 15],
        [30, 35],
      ]),
    ).judged?.toS;
    if (toS !== undefined && toS !== times.at(-1)) times.push(toS);
  }
  return times;
}

describe("liveAnalysis() answers", () => {
  it("counts readings from the first one on, and has no loads before the second", () => {
    const live = liveAnalysis({ marks: [] });
    const one = { timesS: Float64Array.of(3), voltagesV: Float64Array.of(24) };
    expect(live.push(one)).toEqual({ readingCount: 1, lastS: 3, loads: [], judged: null, waiting: false });
    expect(live.push({ ...one, timesS: Float64Array.of(4) })).toMatchObject({ readingCount: 2, lastS: 4 });
  });

  it("knows a mark from its time on, whether set before or after it", () => {
    const live = liveAnalysis({ marks: [mark(10, "on")] });
    expect(live.push(readings(0, 8)).loads).toEqual([]);
    expect(live.push(readings(8, 10.5)).loads).toMatchObject([{ id: "a", isOn: true, switchingCount: 0 }]);
    live.push(readings(10.5, 16, [[10, 15]]));
    expect(live.mark(mark(15, "off")).loads).toMatchObject([
      {
        id: "a",
        isOn: false,
        switchingCount: 1,
        verdict: "undecided",
        because: null,
        depth: { value: expect.closeTo(0.3, 1) },
      },
    ]);
  });

  it("the latest mark says whether a load is on, in whatever order they were set", () => {
    const live = liveAnalysis({ marks: [] });
    live.push(readings(0, 20, [[2, 4]]));
    live.mark(mark(4, "off"));
    live.mark(mark(6, "on"));
    expect(live.mark(mark(2, "on")).loads).toMatchObject([{ isOn: true, switchingCount: 1 }]);
    expect(live.mark(mark(7, "on", "b")).loads.map(({ id, isOn }) => [id, isOn])).toEqual([
      ["a", true],
      ["b", true],
    ]);
  });

  it("calls a load that nobody named by the only one of the profile", () => {
    const named = (options: LiveOptions) => {
      const live = liveAnalysis({ ...options, marks: [mark(2, "on", null)] });
      return live.push(readings(0, 5)).loads.map(({ id }) => id);
    };
    expect(named({ profile })).toEqual(["a"]);
    expect(named({ profile: { loads: [...profile.loads, { ...profile.loads[0]!, id: "b" }] } })).toEqual([
      "switched-load",
    ]);
    expect(named({})).toEqual(["switched-load"]);
  });

  it("refuses a mark that means nothing", () => {
    expect(() => liveAnalysis().mark(mark(Number.NaN, "on"))).toThrow(RangeError);
  });
});

describe("liveAnalysis() full judgements", () => {
  it("come 2 s after the first switching is completed, then 20 s later at the earliest and only after another", () => {
    const marks = [mark(10, "on"), mark(15, "off"), mark(30, "on"), mark(35, "off")];
    // The newest reading is 0.25 s before the whole second: 17.75 s is the first at least 2 s past 15 s, 37.75 s past 35 s.
    expect(judgedTimes({ marks: [] }, marks.slice(0, 2), 60)).toEqual([17.75]);
    const twice = judgedTimes({ marks: [] }, marks, 60);
    expect(twice).toEqual([17.75, 37.75]);
  });

  it("hold a mark at the very time of the newest reading, and none after it", () => {
    const onTimes = [
      [10, 15],
      [20, 25],
    ] as const;
    // The newest reading stands at 25 s, where the second switching is marked off, and another load that was never on.
    const marks = [...onTimes.flatMap(([on, off]) => [mark(on, "on"), mark(off, "off")]), mark(25, "off", "b")];
    const block = readings(0, 25.25, onTimes);
    const { judged, loads } = liveAnalysis({ marks: [...marks, mark(40, "on")] }).push(block);
    expect(block.timesS.at(-1)).toBe(25);
    expect(judged).toEqual({ toS: 25, analysis: analyze(block, { marks }) });
    expect(judged!.analysis.assumptions).toContainEqual({
      code: "mark-ignored",
      timeS: 25,
      load: "b",
      why: "off-without-on",
    });
    expect(loads).toMatchObject([{ isOn: false, switchingCount: 2 }]);
  });

  it("wait for the pause, and say so", () => {
    const live = liveAnalysis({ marks: [mark(10, "on"), mark(15, "off"), mark(22, "on"), mark(25, "off")] });
    const onTimes = [
      [10, 15],
      [22, 25],
    ] as const;
    expect(live.push(readings(0, 16, onTimes))).toMatchObject({ judged: null, waiting: false });
    expect(live.push(readings(16, 17.25, onTimes))).toMatchObject({ judged: { toS: 17 }, waiting: false });
    expect(live.push(readings(17.25, 27.25, onTimes))).toMatchObject({ judged: { toS: 17 }, waiting: true });
    expect(live.push(readings(27.25, 37, onTimes))).toMatchObject({ judged: { toS: 17 }, waiting: true });
    const last = live.push(readings(37, 37.25, onTimes));
    expect(last).toMatchObject({ judged: { toS: 37 }, waiting: false });
    expect(last.loads[0]).toMatchObject({ verdict: "responded", because: "above-critical", switchingCount: 2 });
  });

  it("of a long recording come after a tenth of it", () => {
    const live = liveAnalysis({ marks: [mark(10, "on"), mark(15, "off")] });
    const onTimes = [
      [10, 15],
      [290, 295],
      [310, 315],
    ] as const;
    live.push(readings(0, 300, onTimes));
    for (const [on, off] of onTimes.slice(1)) {
      live.mark(mark(on, "on"));
      live.mark(mark(off, "off"));
    }
    // Judged at 299.75 s; 25 s later is past 20 s but not past a tenth of 325 s.
    expect(live.push(readings(300, 325, onTimes))).toMatchObject({ waiting: true, judged: { toS: 299.75 } });
    expect(live.push(readings(325, 334, onTimes))).toMatchObject({ waiting: false, judged: { toS: 333.75 } });
  });

  it("of times that must be searched for come every 90 s, of a measured current every 20 s", () => {
    const searched = liveAnalysis();
    const onTimes = [
      [30, 35],
      [50, 55],
    ] as const;
    expect(searched.push(readings(0, 90, onTimes))).toMatchObject({ judged: null, loads: [], waiting: true });
    const found = searched.push(readings(90, 90.25, onTimes));
    expect(found).toMatchObject({ judged: { toS: 90 }, waiting: false });
    expect(found.loads).toEqual(
      found.judged!.analysis.loads.map(({ id, switchingCount, depth, verdict, because }) => ({
        id,
        isOn: false,
        switchingCount,
        depth,
        verdict,
        because,
      })),
    );
    const metered = liveAnalysis();
    const block = readings(0, 20.25, [[8, 12]]);
    const current = { timesS: block.timesS, currentsA: block.timesS.map((t) => (t >= 8 && t < 12 ? 9 : 1)) };
    const early = { ...block, timesS: block.timesS.slice(0, -1), voltagesV: block.voltagesV.slice(0, -1) };
    expect(metered.push({ ...early, current })).toMatchObject({ judged: null, waiting: true });
    const rest = { timesS: block.timesS.slice(-1), voltagesV: block.voltagesV.slice(-1) };
    expect(metered.push(rest)).toMatchObject({ judged: { toS: 20 }, waiting: false });
  });
});
