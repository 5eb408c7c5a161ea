import { describe, expect, it } from "vitest";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { rhythmGoesOn } from "../../../src/core/detection/rhythm-beyond.js";
import {
  agreement,
  fewDiffer,
  oneEdgeOnly,
  oneHalfOnly,
  type SingleDip,
  scatterRatio,
  shiftOf,
  singleDips,
  switchingsDisagree,
  timesOf,
} from "../../../src/core/detection/single-dips.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";

const shape = { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
/** White noise of 20 mV at ten readings a second and hardly any drift. */
const noise = { whiteV: 0.02, colouredV: 1e-9, colouredTimeS: 1, walkVPerSqrtS: 1e-9, bendVPerS15: 1e-9 };
const timesS = Float64Array.from({ length: 700 }, (_, i) => i / 10 + 0.05);
const times = (...pairs: readonly (readonly [number, number])[]): OnTime[] =>
  pairs.map(([onsetS, releaseS]) => ({ onsetS, releaseS }));
const pulse = (on: readonly OnTime[], depthV: number) => (t: number) =>
  on.some(({ onsetS, releaseS }) => t > onsetS && t <= releaseS) ? -depthV : 0;

function responseOf(id: string, onTimes: readonly OnTime[], more: Partial<MarkedResponse> = {}): MarkedResponse {
  return {
    id,
    onTimes,
    shape,
    template: dipTemplate(timesS, 0, onTimes, shape),
    scaleSd: 0,
    refined: null,
    ...more,
  } as MarkedResponse;
}
/** Readings that are a level of 24 V and what is told, without any noise of their own. */
function detectionOf(course: (t: number) => number, ...responses: MarkedResponse[]): MarkedDetection {
  const design = new ReadingsDesign({
    timesS,
    valuesV: timesS.map((t) => 24 + course(t)),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.1,
  });
  return { design, fit: { noise }, responses } as unknown as MarkedDetection;
}

describe("singleDips()", () => {
  const on = times([10, 15], [25, 30], [40, 45]);

  it("fits each switching its own depth, with the uncertainty of its readings", () => {
    const depths = [0.1, 0.2, 0.3];
    const course = (t: number) => on.reduce((sum, one, k) => sum + pulse([one], depths[k]!)(t), 0);
    const { dips, joint } = singleDips(detectionOf(course, responseOf("a", on)));
    expect(dips.map(({ load, onTime }) => [load, onTime])).toEqual(on.map((one) => ["a", one]));
    dips.forEach(({ depthV, uDepthV, referenceV }, k) => {
      expect(depthV).toBeCloseTo(depths[k]!, 6);
      // 50 readings of 20 mV beside a level known from the other 550, and a slope.
      expect(uDepthV).toBeGreaterThan(0.02 / Math.sqrt(50));
      expect(uDepthV).toBeLessThan(1.15 * (0.02 / Math.sqrt(50)));
      expect(referenceV).toBeCloseTo(24, 4);
    });
    expect(joint!.modelV[120]).toBeCloseTo(23.9, 4);
  });

  it("tells the level without the dip in the middle of it", () => {
    const { dips } = singleDips(detectionOf((t) => 0.01 * t + pulse(on, 0.1)(t), responseOf("a", on)));
    dips.forEach(({ referenceV }, k) => {
      expect(Math.abs(referenceV - (24 + 0.01 * (12.5 + 15 * k)))).toBeLessThan(0.001);
    });
  });

  it("widens by what is open of the noise, and by the uncertain shape that all dips share", () => {
    const course = pulse(on, 0.1);
    const [plain] = singleDips(detectionOf(course, responseOf("a", on))).dips;
    const [open] = singleDips(detectionOf(course, responseOf("a", on, { scaleSd: 0.4 }))).dips;
    expect(open!.uDepthV / plain!.uDepthV).toBeCloseTo(Math.exp(0.08), 6);
    const refined = { depthV: 0.2, uDepthV: 0.025, uNoiseV: 0.015, onTimes: on, shape } as unknown as NonNullable<
      MarkedResponse["refined"]
    >;
    const [shaped] = singleDips(detectionOf(course, responseOf("a", on, { refined }))).dips;
    // sqrt(25^2 - 15^2) / 200 = a tenth of the depth.
    expect(shaped!.uDepthV).toBeCloseTo(Math.hypot(plain!.uDepthV, 0.01), 6);
    const upward = { ...refined, depthV: -0.2 };
    expect(singleDips(detectionOf(course, responseOf("a", on, { refined: upward }))).dips[0]!.uDepthV).toBeCloseTo(
      plain!.uDepthV,
      9,
    );
  });

  it("leaves out switchings without readings, and has none where two loads cannot be told apart", () => {
    const outside = [...on, { onsetS: 200, releaseS: 205 }];
    expect(singleDips(detectionOf(pulse(on, 0.1), responseOf("a", outside))).dips).toHaveLength(3);
    const twins = detectionOf(pulse(on, 0.1), responseOf("a", on), responseOf("b", on));
    expect(singleDips(twins)).toEqual({ dips: [], joint: null });
  });
});

describe("timesOf() and shiftOf()", () => {
  it("are the fitted times without a shift, else the marked ones with the likeliest shift", () => {
    const on = times([10, 15]);
    const marked = responseOf("a", on, { shape: { ...shape, shiftS: 0.3 } });
    expect([timesOf(marked), shiftOf(marked)]).toEqual([on, 0.3]);
    const refined = { onTimes: times([10.2, 15.1]) } as unknown as MarkedResponse["refined"];
    expect([timesOf({ ...marked, refined }), shiftOf({ ...marked, refined })]).toEqual([times([10.2, 15.1]), 0]);
  });
});

describe("oneEdgeOnly()", () => {
  const on = times([10, 15], [25, 30]);

  it("is so where the voltage falls at the onsets and does not come back at the releases", () => {
    const falls = (t: number) => (t > 10 ? -0.2 : 0) + (t > 25 ? -0.2 : 0);
    const response = responseOf("a", on);
    expect(oneEdgeOnly(detectionOf(falls, response), response)).toBe(true);
    const rises = (t: number) => (t > 15 ? 0.2 : 0) + (t > 30 ? 0.2 : 0);
    expect(oneEdgeOnly(detectionOf(rises, response), response)).toBe(true);
  });

  it("is not so of a load that goes on and off, of one that is deeper at one end, or of nothing", () => {
    const response = responseOf("a", on);
    expect(oneEdgeOnly(detectionOf(pulse(on, 0.2), response), response)).toBe(false);
    const sagging = (t: number) => pulse(on, 0.2)(t) - (t > 15 ? 0.05 : 0) - (t > 30 ? 0.05 : 0);
    expect(oneEdgeOnly(detectionOf(sagging, response), response)).toBe(false);
    expect(
      oneEdgeOnly(
        detectionOf(() => 0, response),
        response,
      ),
    ).toBe(false);
  });

  it("is not told where no release has two seconds of readings behind it", () => {
    const falls = (t: number) => (t > 55 ? -0.2 : 0);
    const told = (releaseS: number) => {
      const response = responseOf("a", times([55, releaseS]));
      return oneEdgeOnly(detectionOf(falls, response), response);
    };
    expect(told(69.2)).toBe(false);
    expect(told(68)).toBe(true);
  });

  it("takes other loads' dips for theirs", () => {
    const [own, other] = [responseOf("a", on), responseOf("b", times([15, 24.5], [30, 39]))];
    const course = (t: number) => pulse(on, 0.2)(t) + pulse(times([15, 24.5], [30, 39]), 0.2)(t);
    expect(oneEdgeOnly(detectionOf(course, own, other), own)).toBe(false);
  });
});

describe("oneHalfOnly()", () => {
  const on = times([10, 20], [30, 40]);
  const response = responseOf("a", on);

  it("is so where the voltage is down in one half of the on-times alone", () => {
    expect(oneHalfOnly(detectionOf(pulse(times([10, 15], [30, 35]), 0.2), response), response)).toBe(true);
    expect(oneHalfOnly(detectionOf(pulse(times([15, 20], [35, 40]), 0.2), response), response)).toBe(true);
  });

  it("is not so of a whole dip, of one that is half as deep in one half, or of nothing", () => {
    expect(oneHalfOnly(detectionOf(pulse(on, 0.2), response), response)).toBe(false);
    const fading = (t: number) => pulse(on, 0.1)(t) + pulse(times([10, 15], [30, 35]), 0.1)(t);
    expect(oneHalfOnly(detectionOf(fading, response), response)).toBe(false);
    expect(
      oneHalfOnly(
        detectionOf(() => 0, response),
        response,
      ),
    ).toBe(false);
  });
});

describe("agreement(), scatterRatio() and switchingsDisagree() by hand", () => {
  const dip = (depthV: number, uDepthV: number): SingleDip => ({
    load: "a",
    onTime: { onsetS: 0, releaseS: 5 },
    depthV,
    uDepthV,
    referenceV: 24,
  });

  it("weigh by precision: chi-square of the differences", () => {
    // Weights 1e4 and 2.5e3: mean (0.1 x 4 + 0.2) / 5 = 0.12; (0.02 / 0.01)^2 + (0.08 / 0.02)^2 = 20.
    const dips = [dip(0.1, 0.01), dip(0.2, 0.02)];
    expect(agreement(dips).mean).toBeCloseTo(0.12, 12);
    expect(agreement(dips).chiSquare).toBeCloseTo(20, 9);
    expect(scatterRatio(dips)).toBeCloseTo(Math.sqrt(20), 9);
    expect(scatterRatio([...dips, dip(0.12, 0.01)])).toBeCloseTo(Math.sqrt(10), 9);
    expect(scatterRatio([dip(0.1, 0.01)])).toBe(0);
  });

  it("disagree from 0.1 % of chi-square on: 10.83 for two switchings by the table", () => {
    const two = (chiSquare: number) => [dip(0, 0.01), dip(0.01 * Math.sqrt(2 * chiSquare), 0.01)];
    expect(switchingsDisagree(two(10.7))).toBe(false);
    expect(switchingsDisagree(two(10.9))).toBe(true);
  });

  it("of four, only where one is below a third of the mean and within two uncertainties of nothing", () => {
    const with0 = (depthV: number, uDepthV = 0.01) =>
      switchingsDisagree([dip(0.1, 0.001), dip(0.1, 0.001), dip(0.1, 0.001), dip(depthV, uDepthV)]);
    // The mean is near 0.1 either way; the poor one must lie far off in its own terms.
    expect(with0(0.019)).toBe(true);
    expect(with0(0.021)).toBe(false);
    expect(with0(0.034, 0.018)).toBe(false);
    expect(with0(0.032, 0.0165)).toBe(true);
  });

  it("of two or three, where one is more than twice another by more than one standard uncertainty", () => {
    const set = (deepestV: number, count: number) => [
      ...Array.from({ length: count - 1 }, () => dip(0.1, 0.004)),
      dip(deepestV, 0.006),
    ];
    // Twice 0.1 V, and the root of 0.006^2 + 0.008^2, which is 0.01 V.
    for (const count of [2, 3]) {
      expect(switchingsDisagree(set(0.209, count))).toBe(false);
      expect(switchingsDisagree(set(0.211, count))).toBe(true);
    }
    expect(switchingsDisagree(set(0.3, 4))).toBe(false);
  });

  it("tells of two or three whether they differ at all, for where one of them did not end as marked", () => {
    const pair = (apartV: number) => [dip(0.1, 0.01), dip(0.1 + apartV, 0.01)];
    // Chi-square of two is half the square of the difference over the uncertainty: 10.83 at 0.1 %, by the table.
    expect(fewDiffer(pair(0.046))).toBe(false);
    expect(fewDiffer(pair(0.047))).toBe(true);
    expect(fewDiffer([dip(0.1, 0.001), dip(0.1, 0.001), dip(0.1, 0.001), dip(0.13, 0.001)])).toBe(false);
  });
});

describe("rhythmGoesOn()", () => {
  const on = times([24, 28], [32, 36], [40, 44]);
  const response = responseOf("a", on);
  const goesOn = (course: (t: number) => number, one = response, ...others: MarkedResponse[]) =>
    rhythmGoesOn(detectionOf(course, one, ...others), one);

  it("is so where the dips go on before and after the switchings in their beat, more than half as deep", () => {
    const beyond = (depthV: number) => pulse(times([8, 12], [16, 20], [48, 52], [56, 60]), depthV);
    expect(goesOn((t) => pulse(on, 0.2)(t) + beyond(0.2)(t))).toBe(true);
    expect(goesOn((t) => pulse(on, 0.2)(t) + beyond(0.11)(t))).toBe(true);
    expect(goesOn((t) => pulse(on, 0.2)(t) + beyond(0.09)(t))).toBe(false);
    expect(goesOn(pulse(on, 0.2))).toBe(false);
  });

  it("looks two places far on either side, where there are readings", () => {
    // Of four places one dips: a quarter of the depth; of the two that the readings hold one would be half.
    expect(goesOn((t) => pulse(on, 0.2)(t) + pulse(times([8, 12], [16, 20], [48, 52]), 0.2)(t))).toBe(true);
    expect(goesOn((t) => pulse(on, 0.2)(t) + pulse(times([48, 52]), 0.2)(t))).toBe(false);
    const late = responseOf("a", times([48, 52], [56, 60], [64, 68]));
    expect(goesOn((t) => pulse(late.onTimes, 0.2)(t) + pulse(times([32, 36], [40, 44]), 0.2)(t), late)).toBe(true);
    const all = responseOf("a", times([2, 20], [25, 43], [48, 66]));
    expect(goesOn(pulse(all.onTimes, 0.2), all)).toBe(false);
  });

  it("takes two switchings for a beat, and not one", () => {
    const two = responseOf("a", times([32, 36], [40, 44]));
    const cycling = pulse(times([16, 20], [24, 28], [32, 36], [40, 44], [48, 52], [56, 60]), 0.2);
    expect(goesOn(cycling, two)).toBe(true);
    expect(goesOn(pulse(two.onTimes, 0.2), two)).toBe(false);
    expect(goesOn(cycling, responseOf("a", times([32, 36])))).toBe(false);
  });

  it("asks for more than noise makes in one of a hundred cases", () => {
    // Four places of 40 readings: 20 mV over root 160 and a little more is 1.6 to 1.9 mV; 2.33 of it 3.7 to 4.4 mV.
    const faint = (depthV: number) =>
      goesOn((t) => pulse(on, 0.001)(t) + pulse(times([8, 12], [16, 20], [48, 52], [56, 60]), depthV)(t));
    expect(faint(0.0036)).toBe(false);
    expect(faint(0.0055)).toBe(true);
  });

  it("does not look for an uneven rhythm, nor for that of a single switching", () => {
    // The middle onset misses the beat by 1.3 s and by 1.4 s of a mean time on of 4 s: a third is 1.333 s.
    const uneven = (offS: number) => {
      const onTimes = times([24, 28], [32 + offS, 36 + offS], [40, 44]);
      return goesOn(
        (t) => pulse(onTimes, 0.2)(t) + pulse(times([8, 12], [16, 20], [48, 52], [56, 60]), 0.2)(t),
        responseOf("a", onTimes),
      );
    };
    expect(uneven(1.3)).toBe(true);
    expect(uneven(1.4)).toBe(false);
    const single = responseOf("a", times([24, 28]));
    expect(goesOn((t) => pulse(times([8, 12], [24, 28], [40, 44]), 0.2)(t), single)).toBe(false);
  });

  it("takes another load's dips for that one's", () => {
    const other = responseOf("b", times([8, 12], [16, 20], [48, 52], [56, 60.5]));
    const course = (t: number) => pulse(on, 0.2)(t) + pulse(other.onTimes, 0.2)(t);
    expect(goesOn(course, response, other)).toBe(false);
  });
});
