import { describe, expect, it } from "vitest";
import type { MarkedLoad } from "../../../src/core/detection/load-work.js";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { mayBeIntervals, roundedResponse } from "../../../src/core/detection/rounded-response.js";
import { strayReleases } from "../../../src/core/detection/stray-release.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const timesS = Float64Array.from({ length: 260 }, (_, i) => i * 0.4);
const shape = { shiftS: 0, lagS: 0.3, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
const marked: readonly OnTime[] = [30, 45, 60].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
const load: MarkedLoad = { id: "heat", onTimes: marked, kind: "resistive", timeUncertaintyS: 0.1 };

/** Readings of a load that was on at these times, 0.3 V deep in 20 mV of white noise, and what is told of its releases. */
function told(real: readonly OnTime[], loads: readonly MarkedLoad[] = [load]) {
  const random = randomGenerator(4);
  const dip = dipTemplate(timesS, 0, real, shape);
  const series = {
    timesS,
    valuesV: timesS.map((_, i) => 24 + 0.3 * dip[i]! + 0.02 * random.normal()),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.4,
  };
  const judge = (given: readonly MarkedLoad[]) =>
    detectMarked(series, given, { meter: { lagS: 0.3 }, random: randomGenerator(5) });
  const asMarked = judge(loads);
  return { asMarked, ...strayReleases(asMarked, loads, judge) };
}
const released = (k: number, releaseS: number) => marked.map((one, j) => (j === k ? { ...one, releaseS } : one));

describe("strayReleases()", () => {
  it("says nothing where the voltage comes back at the marks", () => {
    const found = told(marked);
    expect(found.strays).toEqual([]);
    expect(found.detection).toBe(found.asMarked);
  });

  it("finds a switching that fell off early, alone, and judges the load by the times that it held", () => {
    const { strays, detection, asMarked } = told(released(1, 48.5));
    expect(strays).toHaveLength(1);
    expect(strays[0]).toMatchObject({ load: "heat", onsetS: 45, markedS: 53, lasting: false });
    expect(Math.abs(strays[0]!.seenS! - 48.5)).toBeLessThan(0.6);
    const [response] = detection.responses;
    expect(response!.onTimes[1]!.releaseS).toBeCloseTo(48.5, 0);
    const mean = response!.depth.means[0]!;
    expect(Math.abs(mean - 0.3)).toBeLessThan(0.05);
    // Score and chances stay those of the marks.
    expect(response!.score).toBe(asMarked.responses[0]!.score);
    expect(response!.distribution).toBe(asMarked.responses[0]!.distribution);
  });

  it("finds a load that fell off for good", () => {
    const { strays } = told([marked[0]!, { onsetS: 45, releaseS: 48.5 }]);
    expect(strays[0]).toMatchObject({ onsetS: 45, markedS: 53, lasting: true });
    expect(Math.abs(strays[0]!.seenS! - 48.5)).toBeLessThan(0.6);
  });

  it("finds a load that was left on for some seconds, and to the end of the readings", () => {
    const late = told(released(2, 75)).strays;
    expect(late).toHaveLength(1);
    expect(late[0]).toMatchObject({ onsetS: 60, markedS: 68, lasting: false });
    expect(Math.abs(late[0]!.seenS! - 75)).toBeLessThan(1.1);
    const stayed = told(released(2, 200)).strays;
    expect(stayed).toHaveLength(1);
    expect(stayed[0]).toMatchObject({ onsetS: 60, markedS: 68, seenS: null });
  });

  it("tells of no mark where nobody marked when the load went off", () => {
    const unmarked = { onsetS: 60, releaseS: 103.6, isReleaseTold: false } as const;
    const { strays } = told(released(2, 68), [{ ...load, onTimes: [...marked.slice(0, 2), unmarked] }]);
    expect(strays).toMatchObject([{ onsetS: 60, markedS: null, lasting: false }]);
    expect(Math.abs(strays[0]!.seenS! - 68)).toBeLessThan(0.5);
  });

  it("does not take a hand's error for a stray release", () => {
    expect(told(released(1, 52.2)).strays).toEqual([]);
    expect(told(released(1, 53.9)).strays).toEqual([]);
  });

  it("says nothing of a load that shows no dips at all", () => {
    expect(told([]).strays).toEqual([]);
  });
});

describe("mayBeIntervals()", () => {
  it("is so of single readings whose noise is no more than six tenths of a step", () => {
    expect(mayBeIntervals({ stepV: 0.1, ownNoiseV: 0.06 }, 0)).toBe(true);
    expect(mayBeIntervals({ stepV: 0.1, ownNoiseV: 0.061 }, 0)).toBe(false);
    expect(mayBeIntervals({ stepV: 0.1, ownNoiseV: 0.03 }, 0.1)).toBe(false);
  });
});

describe("roundedResponse()", () => {
  const stepV = 0.1;
  const on = [20, 40].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
  const shortS = Float64Array.from({ length: 160 }, (_, i) => i * 0.4);
  const template = dipTemplate(shortS, 0, on, shape);
  const other = dipTemplate(shortS, 0, [{ onsetS: 5, releaseS: 10 }], shape);
  function judged(depthV: number, sigmaV: number, ownNoiseV = 0.6 * sigmaV) {
    const random = randomGenerator(6);
    const shownV = shortS.map(
      (_, i) => Math.round((0.03 + depthV * template[i]! + sigmaV * random.normal()) / stepV) * stepV,
    );
    return roundedResponse({
      readings: {
        sampled: { timesS: shortS, readingCounts: new Float64Array(shortS.length).fill(1) },
        shownV,
        stepV,
        othersV: new Float64Array(shortS.length),
      },
      likeliest: template,
      depthShapes: [{ template, weight: 1 }],
      uShapeV: 0,
      members: [template, other],
      startV: depthV,
      startUV: 0.02,
      ownNoiseV,
      intervalS: 0.4,
    });
  }

  it("finds a dip of a third of a digit, by its depth's distribution and its score", () => {
    const found = judged(0.07, 0.04)!;
    const total = found.depth.weights.reduce((a, b) => a + b, 0);
    const mean = found.depth.means.reduce((sum, m, k) => sum + m * found.depth.weights[k]!, 0) / total;
    expect(Math.abs(mean - 0.07)).toBeLessThan(4 * found.voltsPerScore);
    expect(found.voltsPerScore).toBeGreaterThan(0.003);
    expect(found.voltsPerScore).toBeLessThan(0.03);
    expect(found.scores).toHaveLength(2);
    // About depth over uncertainty for its own shape, and little for another one.
    expect(found.scores[0]! / (mean / found.voltsPerScore)).toBeGreaterThan(0.7);
    expect(found.scores[0]! / (mean / found.voltsPerScore)).toBeLessThan(1.4);
    expect(Math.abs(found.scores[1]!)).toBeLessThan(3.5);
    expect(found.worstGrowth).toBeGreaterThanOrEqual(1);
    expect(found.scaleSd).toBeGreaterThan(0);
    expect(found.scaleSd).toBeLessThan(0.5);
  });

  it("turns the score's sign for a rise", () => {
    expect(judged(-0.07, 0.04)!.scores[0]).toBeLessThan(-2);
  });

  it("does not judge readings whose noise is not surely large enough", () => {
    expect(judged(0.07, 0.004)).toBeNull();
  });
});
