import { describe, expect, it } from "vitest";
import { loadPatterns } from "../../../src/core/detection/load-patterns.js";

const recording = { startS: 10, endS: 60 };
const on = (timeS: number, load: string | null = "a") => ({ timeS, load, action: "on" as const });
const off = (timeS: number, load: string | null = "a") => ({ timeS, load, action: "off" as const });

function patterns(...marks: Parameters<typeof loadPatterns>[0]) {
  const found = loadPatterns(marks, recording);
  return {
    onTimes: Object.fromEntries(
      [...found.patterns].map(([load, times]) => [
        load ?? "-",
        times.map(({ onsetS, releaseS }) => [onsetS, releaseS]),
      ]),
    ),
    ignored: found.ignored.map((one) => (one.code === "mark-ignored" ? [one.timeS, one.why] : one)),
  };
}

describe("loadPatterns()", () => {
  it("pairs each load's on with its next off, loads side by side, in any order of the marks", () => {
    const marks = [on(12), on(14, "b"), off(17), off(19, "b"), on(22), off(27)];
    const expected = {
      onTimes: {
        a: [
          [12, 17],
          [22, 27],
        ],
        b: [[14, 19]],
      },
      ignored: [],
    };
    expect(patterns(...marks)).toEqual(expected);
    expect(patterns(...marks.toReversed())).toEqual(expected);
  });

  it("marks that nobody attributed are one pattern of their own", () => {
    expect(patterns(on(12, null), on(13), off(15, null), off(16)).onTimes).toEqual({ "-": [[12, 15]], a: [[13, 16]] });
  });

  it("a load still on at the end is on up to the last reading", () => {
    expect(patterns(on(50))).toEqual({ onTimes: { a: [[50, 60]] }, ignored: [] });
  });

  it("a load turned on at the very last reading has no on-time", () => {
    expect(patterns(on(60))).toEqual({ onTimes: {}, ignored: [] });
  });

  it("leaves out marks outside the recording and says so", () => {
    expect(patterns(on(5), off(9), on(20), off(25), on(70))).toEqual({
      onTimes: { a: [[20, 25]] },
      ignored: [
        [5, "outside-recording"],
        [9, "outside-recording"],
        [70, "outside-recording"],
      ],
    });
  });

  it("leaves out an off without its on, and an on that another one follows before any off", () => {
    expect(patterns(off(12), on(15), on(16), off(20))).toEqual({
      onTimes: { a: [[16, 20]] },
      ignored: [
        [12, "off-without-on"],
        [15, "on-without-off"],
      ],
    });
  });

  it("of on-marks only the last counts, and its release is told by no mark", () => {
    const { patterns: found, ignored } = loadPatterns([on(15), on(25), on(35), on(20, "b"), off(22, "b")], recording);
    expect(found.get("a")).toEqual([{ onsetS: 35, releaseS: 60, isReleaseTold: false }]);
    expect(found.get("b")).toEqual([{ onsetS: 20, releaseS: 22 }]);
    expect(ignored).toMatchObject([
      { timeS: 15, why: "on-without-off" },
      { timeS: 25, why: "on-without-off" },
    ]);
  });

  it("an off at the moment of its on switches nothing: the load stays on until the next off", () => {
    expect(patterns(on(15), off(15), off(20)).onTimes).toEqual({ a: [[15, 20]] });
  });

  it("marks at the first and the last reading count", () => {
    expect(patterns(on(10), off(60))).toEqual({ onTimes: { a: [[10, 60]] }, ignored: [] });
  });
});
