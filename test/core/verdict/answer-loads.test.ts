import { describe, expect, it } from "vitest";
import type { Detected } from "../../../src/core/detection/detect-in-windows.js";
import type { SwitchedLoad, Switching } from "../../../src/core/detection/switching.js";
import { NO_UNMARKED } from "../../../src/core/detection/unmarked-dips.js";
import type { LoadProfile } from "../../../src/core/profile.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { answerLoads, type JudgingRates, judgeResponses } from "../../../src/core/verdict/answer-loads.js";
import type { AnswerContext } from "../../../src/core/verdict/judged-response.js";
import { dipOf, judgedOf, RESPONSE, SOURCE } from "./judged-response.js";

const profileOf = (id: string, more: Partial<LoadProfile> = {}): LoadProfile => ({
  id,
  name: `${id} in words`,
  kind: "resistive",
  reference: false,
  acceptA: [4, 8],
  ...more,
});
const switchedOf = (id: string, more: Partial<SwitchedLoad> = {}): SwitchedLoad => ({
  id,
  name: `${id} in words`,
  profile: profileOf(id),
  onTimes: RESPONSE.onTimes,
  timeUncertaintyS: 0.2,
  twins: [],
  searched: null,
  ...more,
});
const switchingOf = (loads: readonly SwitchedLoad[], more: Partial<Switching> = {}): Switching => ({
  mode: "marked",
  loads,
  untouched: [],
  dischargeSign: null,
  assumptions: [],
  ...more,
});
const context: AnswerContext = {
  falseAlarmRate: 0.01,
  power: 0.95,
  source: SOURCE,
  lowestResistanceOhm: 0.02,
  sourceRegulated: false,
  sourceNotShown: false,
  frozen: false,
  atEnd: false,
  frictionUntold: false,
  besideMarks: NO_UNMARKED,
  cadenceTold: false,
  displayStepV: null,
  gainUncertainty: 0,
  random: randomGenerator(1),
};
const judgedAs = (id: string, more: Parameters<typeof judgedOf>[0] = {}) =>
  judgedOf({ response: { ...RESPONSE, id }, profile: profileOf(id), ...more });
const silentDepth = normalQuantity(0.001, 0.005, "V", "generalized-least-squares");
const silentAs = (id: string) =>
  judgedAs(id, {
    pValue: 0.4,
    depth: silentDepth,
    response: { ...RESPONSE, id, depth: { ...RESPONSE.depth, means: Float64Array.of(0.001) } },
  });

describe("judgeResponses()", () => {
  const rates: JudgingRates = {
    falseAlarmRate: 0.02,
    power: 0.9,
    displayStepV: null,
    ownNoiseV: 0,
    frictionV: 0,
    gainUncertainty: 0,
    recording: { timesS: new Float64Array(0), voltagesV: new Float64Array(0) },
    asidesV: new Map(),
  };
  const detected = (ids: readonly string[], scores: readonly number[]): Detected =>
    ({
      windows: [],
      loads: ids.map((id, k) => ({
        response: { ...RESPONSE, id, score: scores[k] },
        dips: [dipOf()],
        edgesDisagree: k === 1,
        // Two loads share the false-alarm rate of 2 %.
        stepPValue: k === 0 ? 0.011 : 0.01,
        rhythmGoesOn: k === 0,
        strayed: k === 1,
      })),
    }) as unknown as Detected;
  const two = switchingOf([switchedOf("a"), switchedOf("b", { twins: [profileOf("c")] })]);

  it("shares the false-alarm rate over the loads, and adjusts their chances together", () => {
    const [a, b] = judgeResponses(detected(["a", "b"], [3, 1]), two, rates);
    // The stand-in: p = 10^-score. Holm: twice the smaller, the larger as it is.
    expect(a!.pValue).toBeCloseTo(0.002, 12);
    expect(b!.pValue).toBeCloseTo(0.1, 12);
    // Critical score -log10(0.02 / 2) = 2, at 2 mV each; 4 more for a power of 0.9.
    expect(a!.criticalDepthV).toBeCloseTo(0.004, 12);
    expect(a!.minimumDetectableDepthV).toBeCloseTo(0.012, 12);
    expect(a!.surelyDetectableDepthV).toBeNull();
    expect(judgeResponses(detected([], []), two, rates)).toEqual([]);
  });

  it("takes one dip that no mark names for no load's by elimination, and two for one's", () => {
    const searched = {
      pValue: 1e-6,
      criticalDepthV: 0.01,
      minimumDetectableDepthV: 0.02,
      surelyDetectableDepthV: 0.02,
      criticalShare: 0.7,
      inPieces: false,
      maybeWander: false,
    };
    const one = RESPONSE.onTimes.slice(0, 1);
    const doubtful = (more: Partial<SwitchedLoad>) => {
      const loads = detected(["x", "a"], [0, 3]);
      const told = switchingOf([switchedOf("x"), switchedOf("a", more)]);
      return judgeResponses(loads, told, rates)[1]!.maybeOneStep;
    };
    expect(doubtful({ searched, onTimes: one })).toBe(true);
    expect(doubtful({ searched })).toBe(false);
    expect(doubtful({ searched, onTimes: one, profile: null })).toBe(false);
    expect(doubtful({ searched: null, onTimes: one })).toBe(false);
  });

  it("hands on the load's profile, its doubts and what it shares", () => {
    const [a, b] = judgeResponses(detected(["a", "b"], [3, 1]), two, rates);
    expect(a).toMatchObject({ profile: { id: "a" }, indistinct: false, edgesDisagree: false, rhythmGoesOn: true });
    expect([a!.maybeOneStep, b!.maybeOneStep]).toEqual([true, false]);
    expect(b).toMatchObject({ profile: { id: "b" }, indistinct: true, edgesDisagree: true, strayed: true });
    expect(a!.depth).toMatchObject({ value: 0.1, route: "generalized-least-squares" });
    expect(a).toMatchObject({ measuredA: null, strayed: false, dips: [dipOf()] });
  });

  it("takes chances and limits from the search where times were searched for", () => {
    const searched = {
      pValue: 0.003,
      criticalDepthV: 0.02,
      minimumDetectableDepthV: 0.03,
      surelyDetectableDepthV: 0.05,
      criticalShare: 0.7,
      inPieces: true,
      maybeWander: true,
    };
    const [a] = judgeResponses(detected(["a"], [9]), switchingOf([switchedOf("a", { searched })]), rates);
    const { inPieces: _, criticalShare, ...limits } = searched;
    // Accepted from that share of its own depth on; the limits are those of ordinary switchings.
    expect(a!.acceptedFromV).toBeCloseTo(criticalShare * a!.depth.value, 12);
    expect(a).toMatchObject({ ...limits, indistinct: true });
    const whole = switchingOf([switchedOf("a", { searched: { ...searched, inPieces: false, maybeWander: false } })]);
    expect(judgeResponses(detected(["a"], [9]), whole, rates)[0]).toMatchObject({
      indistinct: false,
      maybeWander: false,
    });
    expect(judgeResponses(detected(["a"], [9]), switchingOf([switchedOf("a")]), rates)[0]!.maybeWander).toBe(false);
  });

  it("adds what a coarse display hides to limit and depth, unless it is counted in the response already", () => {
    const one = switchingOf([switchedOf("a")]);
    const coarse = { ...rates, displayStepV: 0.01 };
    const [a] = judgeResponses(detected(["a"], [9]), one, coarse);
    // Without noise the mean is off by up to half a step, a depth by up to a whole one; u = q / sqrt 6, and two phases
    // for one switching average nothing.
    expect(a!.displayBias.mostV).toBeCloseTo(0.01, 12);
    expect(a!.displayBias.uV).toBeCloseTo(0.01 / Math.sqrt(6), 12);
    expect(a!.minimumDetectableDepthV - 2 * (-Math.log10(0.02) + 4) * 1e-3).toBeCloseTo(0.01, 9);
    const u = Math.hypot(0.005, 0.01 / Math.sqrt(6));
    expect(a!.depth.u).toBeCloseTo(u, 9);
    expect(a!.depth.value - a!.depth.low).toBeCloseTo(1.96 * u, 5);
    expect(a!.depth.high - a!.depth.value).toBeCloseTo(1.96 * u, 5);
    const counted = detected(["a"], [9]);
    Object.assign(counted.loads[0]!.response, { roundingCounted: true });
    expect(judgeResponses(counted, one, coarse)[0]!.displayBias).toEqual({ uV: 0, mostV: 0 });
  });

  it("widens an interval by no more than the largest error", () => {
    const one = switchingOf([switchedOf("a")]);
    // Friction of 1 mV: at most 2 mV too shallow, u = 2 / sqrt 3; with 0.1 mV of noise the interval grows by 2 mV.
    const sharp = detected(["a"], [9]);
    Object.assign(sharp.loads[0]!.response, { depth: { ...RESPONSE.depth, sds: Float64Array.of(0.0001) } });
    const [a] = judgeResponses(sharp, one, { ...rates, frictionV: 0.001 });
    expect(a!.displayBias.mostV).toBeCloseTo(0.002, 12);
    expect(a!.depth.high).toBeCloseTo(0.1 + 0.000196 + 0.002, 6);
    expect(a!.depth.low).toBeCloseTo(0.1 - 0.000196 - 0.002, 6);
    expect(a!.depth.u).toBeCloseTo(Math.hypot(0.0001, 0.002 / Math.sqrt(3)), 9);
    expect(judgeResponses(sharp, one, rates)[0]!.depth.u).toBeCloseTo(0.0001, 9);
  });
});

describe("answerLoads()", () => {
  it("answers every load of the profile once, those without a judgement for their reason", () => {
    const switching = switchingOf(
      [switchedOf("a"), switchedOf("noisy", { profile: profileOf("noisy", { reference: true }) })],
      {
        untouched: [profileOf("idle"), profileOf("lamp", { shows: "seen" }), profileOf("fan", { shows: "heard" })],
      },
    );
    const { loads } = answerLoads([judgedAs("a")], switching, context);
    expect(loads.map(({ id, verdict, because }) => [id, verdict, because])).toEqual([
      ["a", "responded", "above-critical"],
      ["noisy", "undecided", "too-noisy"],
      ["idle", "undecided", "never-switched"],
      ["lamp", "undecided", "shows-itself"],
      ["fan", "undecided", "shows-itself"],
    ]);
    expect(loads[1]).toEqual({
      id: "noisy",
      name: "noisy in words",
      verdict: "undecided",
      because: "too-noisy",
      pValue: 1,
      switchingCount: 0,
      depth: null,
      coldDepth: null,
      expectedDepthV: null,
      criticalDepthV: null,
      minimumDetectableDepthV: null,
      moreSwitchings: null,
      current: null,
      coldCurrent: null,
      reference: true,
    });
    const { name: _, ...nameless } = profileOf("idle");
    const searched = switchingOf([], { mode: "searched", untouched: [nameless] });
    const [idle] = answerLoads([], searched, context).loads;
    expect(idle).toMatchObject({ name: "idle", because: "load-not-told", reference: false });
    const unnamed = switchingOf([switchedOf("x", { profile: null })]);
    expect(answerLoads([], unnamed, context).loads[0]!.reference).toBe(false);
  });

  it("answers each load that shares its switchings, and says whether one switch turns them on", () => {
    const { name: _, ...nameless } = profileOf("b", { switch: "S1" });
    const shared = switchedOf("a", { profile: profileOf("a", { switch: "S1" }), twins: [nameless] });
    const wired = answerLoads([judgedAs("a", { indistinct: true })], switchingOf([shared]), context);
    expect(wired.loads.map(({ id, name, because }) => [id, name, because])).toEqual([
      ["a", "a in words", "load-not-told"],
      ["b", "b", "load-not-told"],
    ]);
    expect(wired.warnings).toEqual([{ code: "shared-switch", loads: ["a", "b"] }]);
    const codes = (profile: LoadProfile | null, twins: readonly LoadProfile[]) =>
      answerLoads([], switchingOf([switchedOf("a", { profile, twins })]), context).warnings.map(({ code }) => code);
    const s1 = { switch: "S1" };
    expect(codes(profileOf("a", s1), [profileOf("b", s1), profileOf("c")])).toEqual(["overlapping-loads"]);
    expect(codes(profileOf("a", s1), [profileOf("b", s1), profileOf("c", s1)])).toEqual(["shared-switch"]);
    expect(codes(profileOf("a"), [profileOf("b")])).toEqual(["overlapping-loads"]);
    expect(codes(null, [profileOf("b", s1)])).toEqual(["overlapping-loads"]);
  });

  it("warns of a current whose whole interval lies outside what is acceptable", () => {
    // 0.1 V over 20 mOhm: 5 A, 4.47 to 5.53 A.
    const warned = (acceptA: [number, number], more: Parameters<typeof judgedOf>[0] = {}) =>
      answerLoads(
        [judgedAs("a", { profile: profileOf("a", { acceptA }), ...more })],
        switchingOf([switchedOf("a")]),
        context,
      ).warnings.filter(({ code }) => code === "current-outside-acceptable");
    const [low] = warned([5.6, 8]);
    expect(low).toMatchObject({ code: "current-outside-acceptable", load: "a", limitA: 5.6 });
    expect(low).toMatchObject({ currentA: expect.closeTo(5, 9), uA: expect.closeTo(5 * Math.hypot(0.05, 0.02), 9) });
    expect(warned([1, 4.4])).toMatchObject([{ code: "current-outside-acceptable", limitA: 4.4 }]);
    expect(warned([5.5, 8])).toEqual([]);
    expect(warned([1, 4.5])).toEqual([]);
    expect(warned([5.6, 8], { pValue: 0.5 })).toEqual([]);
    expect(warned([5.6, 8], { profile: null })).toEqual([]);
    const { acceptA: _, ...untold } = profileOf("a");
    expect(warned([5.6, 8], { profile: untold })).toEqual([]);
  });

  it("tells how much more the dips scatter than they should where they disagree, but not after a stray release", () => {
    const dips = [dipOf({ depthV: 0.2 }), dipOf({ depthV: 0, onTime: { onsetS: 20, releaseS: 26 } })];
    const warn = (more: Parameters<typeof judgedOf>[0]) =>
      answerLoads([judgedAs("a", more)], switchingOf([switchedOf("a")]), context).warnings;
    // Two depths 0.2 V apart with 10 mV each: chi-square 200, ratio sqrt 200.
    expect(warn({ dips })).toEqual([{ code: "dips-disagree", load: "a", ratio: expect.closeTo(Math.sqrt(200), 9) }]);
    expect(warn({ dips, strayed: true })).toEqual([]);
    // The ends of the dips disagree, the dips do not.
    expect(warn({ edgesDisagree: true })).toEqual([]);
    const alike = [dipOf({ depthV: 0.1 }), dipOf({ depthV: 0.11, onTime: { onsetS: 20, releaseS: 26 } })];
    expect(warn({ dips: alike, edgesDisagree: true })).toEqual([]);
  });

  it("warns where a load is denied and no other shows that the bus dips at all", () => {
    const warn = (judged: Parameters<typeof answerLoads>[0]) =>
      answerLoads(judged, switchingOf(judged.map(({ response }) => switchedOf(response.id))), context).warnings;
    expect(warn([silentAs("a")])).toEqual([{ code: "nothing-dips" }]);
    expect(warn([silentAs("a"), judgedAs("b")])).toEqual([]);
    expect(warn([judgedAs("b")])).toEqual([]);
    expect(warn([])).toEqual([]);
  });

  it("warns of a display that hides more than half of what can be detected", () => {
    const warn = (mostV: number, displayStepV: number | null) =>
      answerLoads(
        [judgedAs("a", { minimumDetectableDepthV: 0.02, displayBias: { uV: 0.001, mostV } })],
        switchingOf([switchedOf("a")]),
        { ...context, displayStepV },
      ).warnings;
    expect(warn(0.011, 0.01)).toEqual([{ code: "quantized-below-digit", quantumV: 0.01 }]);
    expect(warn(0.01, 0.01)).toEqual([]);
    expect(warn(0.011, null)).toEqual([]);
  });

  it("names the tolerances that the source resistance was reckoned with", () => {
    const tolerances = [{ load: "lamp", fraction: 0.05 }];
    const { assumptions } = answerLoads([], switchingOf([]), { ...context, source: { ...SOURCE, tolerances } });
    expect(assumptions).toEqual([{ code: "reference-tolerance", load: "lamp", fraction: 0.05 }]);
    const unknown = { known: false, reason: "path-unknown" } as const;
    expect(answerLoads([], switchingOf([]), { ...context, source: unknown }).assumptions).toEqual([]);
  });

  it("the limits of the recording are those of its least visible load, or of the search where it is finite", () => {
    const judged = [
      judgedAs("a", { criticalDepthV: 0.01, minimumDetectableDepthV: 0.05 }),
      judgedAs("b", { criticalDepthV: 0.02, minimumDetectableDepthV: 0.03 }),
    ];
    const loads = [switchedOf("a"), switchedOf("b")];
    expect(answerLoads(judged, switchingOf(loads), context).limits).toEqual({
      criticalDepthV: 0.02,
      minimumDetectableDepthV: 0.05,
      limitsOf: null,
    });
    expect(answerLoads([], switchingOf([]), context).limits).toEqual({
      criticalDepthV: null,
      minimumDetectableDepthV: null,
      limitsOf: null,
    });
    const limitsOf = { switchingCount: 3, onS: 5, offS: 5 };
    const searched = (criticalDepthV: number | null, minimumDetectableDepthV: number | null) => {
      const searchLimits = { criticalDepthV, minimumDetectableDepthV, limitsOf };
      return answerLoads(judged, switchingOf(loads, { searchLimits }), context).limits;
    };
    expect(searched(0.1, 0.2)).toEqual({ criticalDepthV: 0.1, minimumDetectableDepthV: 0.2, limitsOf });
    expect(searched(Number.POSITIVE_INFINITY, null)).toEqual({
      criticalDepthV: null,
      minimumDetectableDepthV: null,
      limitsOf,
    });
    expect(
      answerLoads(judged, switchingOf(loads), context).budgets.map(({ load, quantity }) => [load, quantity]),
    ).toEqual([
      ["a", "depth"],
      ["a", "current"],
      ["b", "depth"],
      ["b", "current"],
    ]);
  });
});
