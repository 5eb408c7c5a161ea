import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, liveAnalysis, type Recording, type SwitchingMark } from "../../../src/core/index.js";
import { type DipRecordingPlan, dipRecording } from "../../simulation/dip-recording.js";

const switchings = [
  [10, 15],
  [20, 25],
  [31, 36],
] as const;
const plan: DipRecordingPlan = {
  seed: 41,
  rateHz: 50,
  durationS: 46,
  levelV: 24.4,
  relaxationV: 0.2,
  relaxationTimeS: 200,
  sigmaV: 0.02,
  ar1: 0.5,
  quantumV: 0,
  outlierShare: 0.002,
  outlierV: 0.4,
  gaps: [[40, 40.5]],
  loads: [{ id: "probe", depthV: 0.15, switchings }],
  lagS: 0.2,
};

function slice({ timesS, voltagesV, current }: Recording, start: number, end: number): Recording {
  const from = (values: Float64Array) => values.slice(start, end);
  return {
    timesS: from(timesS),
    voltagesV: from(voltagesV),
    ...(current === undefined ? {} : { current: { timesS: from(current.timesS), currentsA: from(current.currentsA) } }),
  };
}

/** Feeds a recording in blocks of random size, marks at their times, and hands back the running analysis and all answers. */
function fed(recording: Recording, marks: readonly SwitchingMark[], seed: number) {
  const random = randomSource(seed);
  const live = liveAnalysis();
  const answers = [];
  let next = 0;
  for (let start = 0; start < recording.timesS.length; ) {
    const end = Math.min(recording.timesS.length, start + 1 + Math.floor(200 * random.uniform()));
    const block = slice(recording, start, end);
    answers.push(live.push(block));
    for (; next < marks.length && marks[next].timeS <= block.timesS.at(-1)!; next++)
      answers.push(live.mark(marks[next]));
    start = end;
  }
  return { live, answers };
}

describe("liveAnalysis()", () => {
  const { recording, marks } = dipRecording(plan);
  const whole = analyze(recording, { marks });

  it.each([1, 2])("final() is what analyze() says of the whole, to the last bit; random blocks, seed %d", (seed) => {
    expect(fed(recording, marks, seed).live.final()).toEqual(whole);
  });

  it("final() is that of analyze() with the current measured, no marks", () => {
    const isOn = (t: number) => switchings.some(([on, off]) => t >= on && t < off);
    const withCurrent: Recording = {
      ...recording,
      current: { timesS: recording.timesS, currentsA: recording.timesS.map((t) => (isOn(t) ? 13 : 5)) },
    };
    expect(fed(withCurrent, [], 4).live.final()).toEqual(analyze(withCurrent));
  });

  it("each answer tells switchings and depth so far, and a verdict from the first full judgement on", () => {
    const { answers } = fed(recording, marks, 5);
    const at = (timeS: number) => answers.filter(({ lastS }) => lastS! <= timeS).at(-1)!.loads[0];
    expect(at(14).isOn).toBe(true);
    expect(at(14).switchingCount).toBe(0);
    expect(at(30).isOn).toBe(false);
    expect(at(30).switchingCount).toBe(2);
    const last = answers.at(-1)!.loads[0];
    expect(last.switchingCount).toBe(3);
    expect(last.verdict).toBe("responded");
    // The simulated depth, give or take the lag's share of the short dip.
    expect(Math.abs(last.depth!.value - 0.15)).toBeLessThan(0.02);
    expect(at(9)?.verdict ?? "undecided").toBe("undecided");
  });

  it("judges again only after another switching, and never more often than once in 20 s", () => {
    const long = dipRecording({ ...plan, durationS: 200 });
    const { answers } = fed(long.recording, long.marks, 6);
    const times = [...new Set(answers.flatMap(({ judged }) => judged?.toS ?? []))];
    expect(times.length).toBeGreaterThanOrEqual(2);
    expect(times.length).toBeLessThanOrEqual(3);
    times.slice(1).forEach((toS, k) => {
      expect(toS - times[k]).toBeGreaterThanOrEqual(20);
    });
    expect(answers.at(-1)!.waiting).toBe(false);
  });

  it("answers before there is anything to judge, and refuses what is no recording", () => {
    const live = liveAnalysis();
    expect(live.push(slice(recording, 0, 0))).toEqual({
      readingCount: 0,
      lastS: null,
      loads: [],
      judged: null,
      waiting: false,
    });
    live.push(slice(recording, 0, 5));
    expect(() => live.push(slice(recording, 0, 2))).toThrow(
      "Cannot add readings: times must not go back, got 0 after 0.08",
    );
    const nan = { timesS: Float64Array.of(1), voltagesV: Float64Array.of(Number.NaN) };
    expect(() => live.push(nan)).toThrow("Cannot add readings: voltages must be finite, got NaN");
    const short = { timesS: Float64Array.of(1, 2), voltagesV: Float64Array.of(24) };
    expect(() => live.push(short)).toThrow("Cannot add readings: 2 times need as many voltages, got 1");
    expect(() => liveAnalysis({ power: 2 })).toThrow("power must lie between 0.5 and 1");
    expect(live.push(slice(recording, 5, 9)).readingCount).toBe(9);
  });
});
