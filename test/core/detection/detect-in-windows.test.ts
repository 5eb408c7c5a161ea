import { describe, expect, it } from "vitest";
import { detectInWindows, quietLevel } from "../../../src/core/detection/detect-in-windows.js";
import type { SwitchedLoad, Switching } from "../../../src/core/detection/switching.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const times = (...onsets: number[]) => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
const switched = (id: string, onsets: readonly number[]): SwitchedLoad => ({
  id,
  name: id,
  profile: null,
  onTimes: times(...onsets),
  timeUncertaintyS: 0.1,
  twins: [],
  searched: null,
});
const switchingOf = (loads: readonly SwitchedLoad[], more: Partial<Switching> = {}): Switching => ({
  mode: "searched",
  loads,
  untouched: [],
  dischargeSign: null,
  assumptions: [],
  ...more,
});

/** Level of 24 V with white noise, and 0.2 V less during the on-times; two readings a second. */
function recording(
  endS: number,
  onsets: readonly number[],
  { depthV = 0.2, sigmaV = 0.02, seed = 1, rateHz = 2 } = {},
) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: endS * rateHz }, (_, i) => i / rateHz + 0.1);
  const isOn = (t: number) => onsets.some((onsetS) => t > onsetS && t <= onsetS + 5);
  return { timesS, voltagesV: timesS.map((t) => 24 - (isOn(t) ? depthV : 0) + sigmaV * random.normal()) };
}
const context = { meter: { lagS: 0.05 }, displayStepV: null, ownNoiseV: 0, random: randomGenerator(2) };

describe("detectInWindows()", () => {
  const onsets = [40, 50, 60];
  const one = detectInWindows(recording(110, onsets), switchingOf([switched("a", onsets)]), context);

  it("judges a load in the one stretch that holds it", () => {
    expect(one.windows).toHaveLength(1);
    const [load] = one.loads;
    expect(load!.response.id).toBe("a");
    // As it was judged there, with the whole distribution of its depth.
    expect(load!.response).toBe(one.windows[0]!.detection.responses[0]);
    expect(load!.dips.map(({ onTime }) => Math.round(onTime.onsetS))).toEqual(onsets);
    for (const { depthV, uDepthV } of load!.dips) expect(Math.abs(depthV - 0.2)).toBeLessThan(4 * uDepthV);
    expect(load).toMatchObject({ edgesDisagree: false, rhythmGoesOn: false, strayed: false });
    expect(one.assumptions).toEqual([{ code: "lag-from-profile", lagS: 0.05 }]);
    expect(one.warnings).toEqual([]);
  });

  it("tells the noise about the drift, and the level at the end", () => {
    expect(Math.abs(one.noise.sigmaV / 0.02 - 1)).toBeLessThan(0.35);
    expect(one.noise.sigmaV).toBeCloseTo(Math.hypot(one.noise.whiteV, one.noise.colouredV), 12);
    expect(one.noise.ar1).toBeGreaterThanOrEqual(0);
    // Lag-one correlation of white and Ornstein-Uhlenbeck noise, readings half a second apart.
    const coloured = one.noise.colouredV ** 2;
    const ar1 = (coloured * Math.exp(-0.5 / one.noise.colouredTimeS)) / (coloured + one.noise.whiteV ** 2);
    expect(one.noise.ar1).toBeCloseTo(ar1, 9);
    const level = quietLevel(one)!;
    expect(Math.abs(level.value - 24)).toBeLessThan(0.03);
    expect(level.u).toBeCloseTo(Math.hypot(one.noise.colouredV, one.noise.whiteV / 3), 12);
  });

  it("joins what a load shows in two stretches far from each other", () => {
    const both = [40, 50, 400, 410];
    const joined = detectInWindows(recording(460, both), switchingOf([switched("a", both)]), context);
    expect(joined.windows).toHaveLength(2);
    const [load] = joined.loads;
    const { response } = load!;
    expect(response.onTimes.map(({ onsetS }) => onsetS)).toEqual(both);
    const parts = joined.windows.flatMap(({ detection }) => detection.responses);
    const moments = parts.map(({ depth }) => {
      const total = depth.weights.reduce((a, b) => a + b, 0);
      const mean = depth.means.reduce((sum, m, k) => sum + m * depth.weights[k]!, 0) / total;
      const variance =
        depth.means.reduce((sum, m, k) => sum + depth.weights[k]! * (depth.sds[k]! ** 2 + (m - mean) ** 2), 0) / total;
      return { mean, weight: 1 / variance };
    });
    // Inverse-variance mean.
    const weight = moments[0]!.weight + moments[1]!.weight;
    expect(response.depth.means[0]).toBeCloseTo(
      (moments[0]!.mean * moments[0]!.weight + moments[1]!.mean * moments[1]!.weight) / weight,
      9,
    );
    expect(response.depth.sds[0]).toBeCloseTo(weight ** -0.5, 9);
    expect(response.depth.weights[0]).toBe(1);
    const inverse = (pick: (part: (typeof parts)[number]) => number) =>
      parts.reduce((sum, part) => sum + pick(part) ** -2, 0) ** -0.5;
    expect(response.voltsPerScore).toBeCloseTo(
      inverse((part) => part.voltsPerScore),
      12,
    );
    expect(response.expectedVoltsPerScore).toBeCloseTo(
      inverse((part) => part.expectedVoltsPerScore),
      12,
    );
    // Stouffer: a standard normal score without a response. Tables: 1 % at 2.326, 95 % power 1.645 more.
    expect(response.distribution.criticalScore(0.01)).toBeCloseTo(2.3263, 3);
    expect(response.distribution.detectableSize(2.3263, 0.95)).toBeCloseTo(3.9712, 3);
    expect(response.distribution.detectableSize(1, 0.001)).toBe(0);
    expect(response.refined).toBeNull();
    expect(load!.dips).toHaveLength(4);
  });

  it("adds the scores of stretches by Stouffer's method, each weighted by what it can tell", () => {
    const both = [40, 50, 400, 410];
    const faint = detectInWindows(
      recording(460, both, { depthV: 0.03, sigmaV: 0.03 }),
      switchingOf([switched("a", both)]),
      context,
    );
    const parts = faint.windows.flatMap(({ detection }) => detection.responses);
    const { response } = faint.loads[0]!;
    // Normal scores of the single chances, by bisection of the normal tail.
    const scoreOf = (p: number) => {
      let [low, high] = [-10, 10];
      for (let k = 0; k < 80; k++) {
        const middle = (low + high) / 2;
        if (response.distribution.pValue(middle) > p) low = middle;
        else high = middle;
      }
      return low;
    };
    const expected = parts.reduce(
      (sum, part) =>
        sum + scoreOf(part.distribution.pValue(part.score)) * (response.voltsPerScore / part.voltsPerScore),
      0,
    );
    expect(response.score).toBeCloseTo(expected, 6);
  });

  it("has nothing of a load without readings around it, and then tells the scatter of the readings alone", () => {
    const few = recording(110, onsets);
    const far = detectInWindows(few, switchingOf([switched("a", [500, 510])]), context);
    expect(far).toMatchObject({ windows: [], loads: [], warnings: [] });
    expect(far.noise).toMatchObject({ ar1: 0, colouredV: 0, colouredTimeS: 0, walkVPerSqrtS: 0 });
    expect(Math.abs(far.noise.sigmaV / 0.02 - 1)).toBeLessThan(0.3);
    expect(far.noise.whiteV).toBe(far.noise.sigmaV);
    expect(quietLevel(far)).toBeNull();
    expect(far.assumptions).toEqual([{ code: "lag-from-profile", lagS: 0.05 }]);
    const unknown = detectInWindows(few, switchingOf([switched("a", [500])]), { ...context, meter: undefined });
    expect(unknown.assumptions).toEqual([{ code: "lag-searched", lagS: 0 }]);
  });

  it("says that a lag was searched for, readings were averaged and outliers left out", () => {
    const fast = recording(80, [35], { rateHz: 20 });
    fast.voltagesV[300] = 30;
    const found = detectInWindows(fast, switchingOf([switched("a", [35])]), { ...context, meter: undefined });
    expect(found.assumptions.map(({ code }) => code)).toEqual(["block-means", "outliers-left-out", "lag-searched"]);
    expect(found.assumptions[0]).toMatchObject({ blockS: 0.1, readingCount: 1600 });
    expect(found.assumptions[1]).toMatchObject({ outlierCount: 1 });
    // A logger that was slower around another switching: only the faster readings were averaged.
    const onsets = [35, 300];
    const slow = recording(360, [300]);
    const from = slow.timesS.findIndex((t) => t > 220);
    const both = {
      timesS: Float64Array.of(...fast.timesS, ...slow.timesS.subarray(from)),
      voltagesV: Float64Array.of(...fast.voltagesV, ...slow.voltagesV.subarray(from)),
    };
    const [first] = detectInWindows(both, switchingOf([switched("a", onsets)]), context).assumptions;
    expect(first).toMatchObject({ code: "block-means", blockS: 0.1, readingCount: 1600 });
  });

  it("says that a load went astray where half of its switchings did", () => {
    // Marked as on for five seconds each time; one of them came back after two.
    const strayed = (marked: readonly number[]) => {
      const plain = recording(130, marked, { depthV: 0.3, rateHz: 5 });
      const isBack = (t: number) => t > marked[0]! + 2 && t <= marked[0]! + 5;
      const voltagesV = plain.voltagesV.map((v, i) => (isBack(plain.timesS[i]!) ? v + 0.3 : v));
      const switching = switchingOf([switched("a", marked)], { mode: "marked" });
      const { loads, warnings } = detectInWindows({ ...plain, voltagesV }, switching, context);
      expect(warnings).toMatchObject([{ code: "stray-release", onsetS: marked[0], lasting: false }]);
      return loads[0]!.strayed;
    };
    expect(strayed([40, 60])).toBe(true);
    expect(strayed([40, 55, 70])).toBe(false);
  });

  it("says how a needle swings that did: its natural frequency and damping ratio within 15 %", () => {
    const [frequencyHz, ratio] = [1.2, 0.55];
    const natural = 2 * Math.PI * frequencyHz;
    const damped = natural * Math.sqrt(1 - ratio ** 2);
    // Step response of a damped oscillator.
    const swung = (t: number) =>
      t <= 0
        ? 0
        : 1 -
          Math.exp(-ratio * natural * t) * (Math.cos(damped * t) + ((ratio * natural) / damped) * Math.sin(damped * t));
    const still = recording(110, [], { sigmaV: 0.004, rateHz: 20 });
    const dip = (t: number) => onsets.reduce((sum, onsetS) => sum + swung(t - onsetS) - swung(t - onsetS - 5), 0);
    const voltagesV = still.voltagesV.map((v, i) => v - 0.3 * dip(still.timesS[i]!));
    const { assumptions } = detectInWindows({ ...still, voltagesV }, switchingOf([switched("a", onsets)]), {
      ...context,
      meter: undefined,
    });
    const told = assumptions.find((one) => one.code === "needle-swings");
    if (told?.code !== "needle-swings") throw new Error("not told");
    expect(Math.abs(Math.log(told.frequencyHz / frequencyHz))).toBeLessThan(0.15);
    expect(Math.abs(Math.log(told.dampingRatio / ratio))).toBeLessThan(0.15);
  });

  it("says that digits were judged as intervals where they were, and with what noise", () => {
    const shown = recording(110, onsets, { sigmaV: 0.03 });
    const judged = (stepV: number) =>
      detectInWindows(
        { ...shown, voltagesV: shown.voltagesV.map((v) => stepV * Math.round(v / stepV)) },
        switchingOf([switched("a", onsets)]),
        { ...context, displayStepV: stepV, ownNoiseV: 0.03 },
      );
    const known = judged(0.1);
    expect(known.assumptions.map(({ code }) => code)).toEqual(["interval-likelihood", "lag-from-profile"]);
    const { whiteV, colouredV } = known.windows[0]!.detection.fit.noise;
    expect(known.assumptions[0]).toMatchObject({
      quantumV: 0.1,
      sigmaV: expect.closeTo(Math.hypot(whiteV, colouredV), 12),
    });
    // Noise of three steps is judged as if there were none.
    expect(judged(0.01).assumptions.map(({ code }) => code)).toEqual(["lag-from-profile"]);
  });

  it("warns where the noise of a search swelled", () => {
    const swelled = detectInWindows(
      recording(110, onsets),
      switchingOf([switched("a", onsets)], { noiseRatio: 3 }),
      context,
    );
    expect(swelled.warnings).toEqual([{ code: "noise-not-stationary", ratio: 3 }]);
  });
});
