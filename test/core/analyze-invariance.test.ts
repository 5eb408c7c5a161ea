import { describe, expect, it } from "vitest";
import { type Analysis, analyze, type BusProfile, type Recording } from "../../src/core/index.js";
import { type DipRecordingPlan, dipRecording } from "../simulation/dip-recording.js";

const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [{ id: "probe", kind: "resistive", acceptA: [6, 14], reference: false }],
};

const plan: DipRecordingPlan = {
  seed: 21,
  rateHz: 10,
  durationS: 60,
  levelV: 24.1,
  relaxationV: 0.3,
  relaxationTimeS: 60,
  sigmaV: 0.03,
  ar1: 0.4,
  quantumV: 0,
  outlierShare: 0,
  outlierV: 0,
  gaps: [],
  loads: [
    {
      id: "probe",
      depthV: 0.02,
      switchings: [
        [15, 20],
        [25, 30],
        [35, 40],
      ],
    },
  ],
  lagS: 0.2,
};

const { recording, marks } = dipRecording(plan);
const plain = analyze(recording, { marks, profile });
const first = (analysis: Analysis) => analysis.loads[0]!;
/** Two p-values of some 1e-5 from two sets of draws, each known to about 5 % where the noise's size is open: 4 x 5 % x sqrt 2. */
const DRAWN = 0.3;

/** The same readings and marks on a clock that started `byS` seconds earlier. */
function later(byS: number): { readonly recording: Recording; readonly marks: typeof marks } {
  return {
    recording: { ...recording, timesS: recording.timesS.map((t) => t + byS) },
    marks: marks.map((mark) => ({ ...mark, timeS: mark.timeS + byS })),
  };
}

describe("analyze()", () => {
  it("gives the same analysis for the same recording and seed", () => {
    expect(analyze(recording, { marks, profile })).toEqual(plain);
  });

  it("does not hang on when the clock started", () => {
    const moved = later(1e6);
    const shifted = first(analyze(moved.recording, { marks: moved.marks, profile }));
    expect(shifted.verdict).toBe(first(plain).verdict);
    // Times near 1e6 s are known to 1e-10 s: nothing of the estimates moves by a thousandth of their uncertainty.
    expect(Math.abs(shifted.depth!.value - first(plain).depth!.value)).toBeLessThan(0.01 * first(plain).depth!.u);
    expect(Math.abs(shifted.pValue / first(plain).pValue - 1)).toBeLessThan(DRAWN);
  });

  it("twice the volts of twice the resistance are the same current, verdict and error rate", () => {
    const doubled: BusProfile = {
      ...profile,
      battery: { resistanceOhm: { value: 0.019, u: 0.0008 } },
      pathResistanceOhm: { value: 0.006, u: 0.0006 },
    };
    const answer = first(
      analyze({ ...recording, voltagesV: recording.voltagesV.map((v) => 2 * v) }, { marks, profile: doubled }),
    );
    expect(answer.verdict).toBe(first(plain).verdict);
    expect(Math.abs(answer.pValue / first(plain).pValue - 1)).toBeLessThan(DRAWN);
    expect(Math.abs(answer.depth!.value / first(plain).depth!.value / 2 - 1)).toBeLessThan(0.01);
    expect(Math.abs(answer.depth!.u / first(plain).depth!.u / 2 - 1)).toBeLessThan(0.02);
    expect(answer.expectedDepthV! / first(plain).expectedDepthV!).toBeCloseTo(2, 9);
    if (first(plain).current !== null) {
      expect(Math.abs(answer.current!.value / first(plain).current!.value - 1)).toBeLessThan(0.01);
    }
  });

  it("takes the marks in any order", () => {
    const reversed = analyze(recording, { marks: marks.toReversed(), profile });
    expect(reversed.loads).toEqual(plain.loads);
    expect(reversed.dips).toEqual(plain.dips);
  });

  it("another seed of the draws moves a p-value by their own scatter alone", () => {
    const rest = first(plain);
    for (const seed of [2, 3]) {
      const other = first(analyze(recording, { marks, profile, seed }));
      expect(other.verdict).toBe(rest.verdict);
      expect(Math.abs(other.pValue / rest.pValue - 1)).toBeLessThan(DRAWN);
      expect(other.depth!.value).toBeCloseTo(rest.depth!.value, 12);
    }
  });

  it("quiet more than a minute away from the switchings changes nothing", () => {
    const long = dipRecording({
      ...plan,
      durationS: 210,
      loads: [
        {
          id: "probe",
          depthV: 0.05,
          switchings: [
            [95, 100],
            [106, 111],
          ],
        },
      ],
    });
    const { timesS, voltagesV } = long.recording;
    // Kept from 30 s on: the first mark stands at 95 s.
    const cut = { timesS: timesS.slice(300), voltagesV: voltagesV.slice(300) };
    const [whole, part] = [long.recording, cut].map((each) => first(analyze(each, { marks: long.marks, profile })));
    expect(part!.depth).toEqual(whole!.depth);
    expect(part!.pValue).toBe(whole!.pValue);
  });

  it("the load's name and place in the profile change nothing but the name", () => {
    const others: BusProfile = {
      ...profile,
      loads: [
        { id: "lamp", kind: "resistive", acceptA: [1, 2], reference: false },
        { ...profile.loads[0]!, id: "z" },
      ],
    };
    const renamed = analyze(recording, { marks: marks.map((mark) => ({ ...mark, load: "z" })), profile: others });
    const answer = renamed.loads.find(({ id }) => id === "z")!;
    expect(answer.depth).toEqual(first(plain).depth);
    expect(answer.pValue).toBe(first(plain).pValue);
    expect(renamed.loads.find(({ id }) => id === "lamp")!.because).toBe("never-switched");
  });

  it("more noise on the same readings never makes a dip more certain", () => {
    const pValues = [0.01, 0.03, 0.1, 0.3].map((sigmaV) => {
      const noisy = dipRecording({ ...plan, sigmaV, loads: [{ ...plan.loads[0]!, depthV: 0.12 }] });
      return first(analyze(noisy.recording, { marks: noisy.marks, profile })).pValue;
    });
    expect(pValues.toSorted((a, b) => a - b)).toEqual(pValues);
  });
});
