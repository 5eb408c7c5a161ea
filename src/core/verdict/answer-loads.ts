import type { LoadAnswer, UncertaintyBudget, VerdictReason } from "../analysis.js";
import type { Detected } from "../detection/detect-in-windows.js";
import { type DisplayBias, displayBias, withFriction } from "../detection/display-bias.js";
import { scatterRatio } from "../detection/single-dips.js";
import type { SearchLimits, Switching } from "../detection/switching.js";
import type { Assumption, Warning } from "../notes.js";
import type { LoadProfile } from "../profile.js";
import type { Quantity } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { mixtureMoments } from "../statistics/normal-mixture.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import { spanningDips } from "./differing-dips.js";
import { holmAdjusted } from "./holm.js";
import type { AnswerContext, JudgedResponse } from "./judged-response.js";
import { answerLoad, depthOf, detectableDepths } from "./load-answers.js";
import { finiteOrNull, limitsUnderDoubt, pValueUnderDoubt, withCommonDoubt } from "./shared-doubt.js";
import { unequalDoubtV } from "./unequal-doubt.js";

/** Answers for all loads, and the limits of the recording as a whole. */
export interface AnsweredLoads {
  readonly loads: readonly LoadAnswer[];
  readonly budgets: readonly UncertaintyBudget[];
  readonly assumptions: readonly Assumption[];
  readonly warnings: readonly Warning[];
  readonly limits: SearchLimits;
}

/** How strictly to judge, and what the display does to the readings. */
export interface JudgingRates {
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly displayStepV: number | null;
  readonly ownNoiseV: number;
  /** How far friction holds the needle off, volts; 0 for none. */
  readonly frictionV: number;
  /** Standard uncertainty of the gain that all readings share, as a share. */
  readonly gainUncertainty: number;
  /** The readings, for what they say of their own uncertainty. */
  readonly recording: Recording;
  /** By load, what a needle that lay aside while it was on may have made of its depth, volts; left out where none may. */
  readonly asidesV: ReadonlyMap<string, number>;
}

/** Error rates of every response; the false-alarm rate is shared over the loads. */
export function judgeResponses(detected: Detected, switching: Switching, rates: JudgingRates): JudgedResponse[] {
  const found = detected.loads.map((one) => ({
    ...one,
    load: switching.loads.find(({ id }) => id === one.response.id)!,
  }));
  const share = rates.falseAlarmRate / Math.max(found.length, 1);
  const alone = found.map(
    ({ response, load }) => load.searched?.pValue ?? response.distribution.pValue(response.score),
  );
  const undoubted = holmAdjusted(alone);
  const all = found.flatMap(({ load }) => load.onTimes);
  const commonsV = found.map(({ load }) =>
    rootSumSquares(unequalDoubtV(rates.recording, load.onTimes, all), rates.asidesV.get(load.id) ?? 0),
  );
  const pValues = holmAdjusted(
    alone.map((pValue, k) => {
      const ofDepth = commonsV[k] === 0 ? 0 : commonsV[k] / Math.abs(mixtureMoments(found[k].response.depth).mean);
      return pValueUnderDoubt(pValue, rootSumSquares(rates.gainUncertainty, ofDepth));
    }),
  );
  const limitRates = { ...rates, falseAlarmRate: share };
  return found.map(({ response, load, dips, stepPValue, ...told }, k) => {
    const limits = load.searched ?? { ...detectableDepths(response, share, rates.power), surelyDetectableDepthV: null };
    const rounding =
      rates.displayStepV === null || response.roundingCounted
        ? NO_BIAS
        : displayBias(rates.displayStepV, {
            ownNoiseV: rates.ownNoiseV,
            levelsV: dips.map(({ referenceV }) => referenceV),
          });
    const commonV = commonsV[k];
    const doubted = limitsUnderDoubt(limits, { ...limitRates, commonV });
    const bias = rates.frictionV > 0 ? withFriction(rounding, rates.frictionV) : rounding;
    const depth = withCommonDoubt(spanningDips(widened(depthOf(response), bias), dips), commonV);
    return {
      response,
      profile: load.profile,
      dips,
      pValue: pValues[k],
      undoubted: {
        pValue: undoubted[k],
        minimumDetectableDepthV: limits.minimumDetectableDepthV + bias.mostV,
      },
      criticalDepthV: doubted.criticalDepthV,
      minimumDetectableDepthV: doubted.minimumDetectableDepthV + bias.mostV,
      acceptedFromV: load.searched === null ? doubted.criticalDepthV : load.searched.criticalShare * depth.value,
      surelyDetectableDepthV: limits.surelyDetectableDepthV,
      displayBias: bias,
      indistinct: load.twins.length > 0 || load.searched?.inPieces === true,
      edgesDisagree: told.edgesDisagree,
      unfit: false,
      // One dip that no mark names is a load's by elimination only: two things, switched once each, make it too.
      maybeOneStep: stepPValue > share || (load.searched !== null && load.profile !== null && load.onTimes.length < 2),
      maybeWander: load.searched?.maybeWander === true,
      rhythmGoesOn: told.rhythmGoesOn,
      strayed: told.strayed,
      marksOffS: told.marksOffS,
      besideOwnMarks: told.besideOwnMarks,
      commonV,
      depth,
      measuredA: null,
    };
  });
}

const NO_BIAS: DisplayBias = { uV: 0, mostV: 0 };

/** Adds the display's own uncertainty to a depth; the interval grows by no more than the largest error. */
function widened(depth: Quantity<"V">, bias: DisplayBias): Quantity<"V"> {
  if (bias.uV === 0) return depth;
  const u = rootSumSquares(depth.u, bias.uV);
  const grow = (half: number) => Math.min(half * (u / depth.u), half + bias.mostV);
  return {
    ...depth,
    u,
    low: depth.value - grow(depth.value - depth.low),
    high: depth.value + grow(depth.high - depth.value),
  };
}

/** Verdicts on the loads that were switched, then the ones that were not. */
export function answerLoads(
  judged: readonly JudgedResponse[],
  switching: Switching,
  context: AnswerContext,
): AnsweredLoads {
  const answered = judged.map((one) => {
    const first = answerLoad(one, context);
    // Dips whose times nobody told are the only load's by elimination: not where they do not fit it.
    const unfit = one.surelyDetectableDepthV !== null && limitPassed(first.answer, one.profile) !== null;
    return unfit ? answerLoad({ ...one, unfit }, context) : first;
  });
  // Whether the load was switched at all is known only where somebody marked the switchings.
  const because = switching.mode === "searched" ? "load-not-told" : "never-switched";
  const missing = switching.loads.filter(({ id }) => !judged.some(({ response }) => response.id === id));
  const twins = switching.loads.filter((load) => load.twins.length > 0);
  const loads = [
    ...answered.map(({ answer }) => answer),
    ...twins.flatMap((load) =>
      load.twins.map((twin) => untouched(twin.id, twin.name ?? twin.id, twin, "load-not-told")),
    ),
    ...missing.map((load) => untouched(load.id, load.name, load.profile, "too-noisy")),
    ...switching.untouched.map((load) =>
      untouched(load.id, load.name ?? load.id, load, showsItself(load) ? "shows-itself" : because),
    ),
  ];
  const assumptions: Assumption[] = answered.flatMap((one) => one.assumptions);
  if (context.source.known) {
    for (const tolerance of context.source.tolerances) assumptions.push({ code: "reference-tolerance", ...tolerance });
  }
  const warnings: Warning[] =
    judged.some(isCoarse) && context.displayStepV !== null
      ? [{ code: "quantized-below-digit", quantumV: context.displayStepV }]
      : [];
  for (const { id, profile, twins: others } of twins) {
    const wired = profile?.switch !== undefined && others.every((one) => one.switch === profile.switch);
    warnings.push({
      code: wired ? "shared-switch" : "overlapping-loads",
      loads: [id, ...others.map((one) => one.id)],
    });
  }
  judged.forEach(({ dips, profile, marksOffS }, k) => {
    const { answer } = answered[k];
    if (marksOffS !== null) warnings.push({ code: "marks-off", load: answer.id, laterS: marksOffS });
    const limitA = limitPassed(answer, profile);
    if (limitA !== null) {
      const { value: currentA, u: uA } = answer.current!;
      warnings.push({ code: "current-outside-acceptable", load: answer.id, currentA, uA, limitA });
    }
    const ratio = scatterRatio(dips);
    // The two ends of the dips may disagree where the dips themselves do not.
    if (answer.because === "dips-disagree" && ratio > 1) {
      warnings.push({ code: "dips-disagree", load: answer.id, ratio });
    }
  });
  const gave = (verdict: LoadAnswer["verdict"]) => loads.some((load) => load.verdict === verdict);
  const isSilent = gave("no response") || loads.some(({ because }) => because === "source-not-shown");
  if (isSilent && !gave("responded")) warnings.push({ code: "nothing-dips" });
  return {
    loads,
    budgets: answered.flatMap((one) => one.budgets),
    assumptions,
    warnings,
    limits: searchLimits(switching, context) ?? {
      criticalDepthV: worst(judged.map((one) => one.criticalDepthV)),
      minimumDetectableDepthV: worst(judged.map((one) => one.minimumDetectableDepthV)),
      limitsOf: null,
    },
  };
}

/** The limit of acceptable current that the whole interval of a response lies beyond; null for none. */
function limitPassed({ verdict, current }: LoadAnswer, profile: LoadProfile | null): number | null {
  if (verdict !== "responded" || current === null || profile?.acceptA === undefined) return null;
  const [lowestA, highestA] = profile.acceptA;
  return current.high < lowestA ? lowestA : current.low > highestA ? highestA : null;
}

function showsItself({ shows }: LoadProfile): boolean {
  return shows === "seen" || shows === "heard";
}

/** The display hides more than the noise does. */
function isCoarse(judged: JudgedResponse): boolean {
  return judged.displayBias.mostV > 0.5 * judged.minimumDetectableDepthV;
}

/** The limit of the recording is that of its least visible load; null without any. */
function worst(limitsV: readonly number[]): number | null {
  return limitsV.length === 0 ? null : finiteOrNull(Math.max(...limitsV));
}

/** Limits of a search under the doubt of the gain; infinite ones are none. */
function searchLimits({ searchLimits: limits }: Switching, context: AnswerContext): AnsweredLoads["limits"] | null {
  if (limits === undefined) return null;
  const doubted = limitsUnderDoubt(
    {
      criticalDepthV: limits.criticalDepthV ?? Number.POSITIVE_INFINITY,
      minimumDetectableDepthV: limits.minimumDetectableDepthV ?? Number.POSITIVE_INFINITY,
    },
    { ...context, commonV: 0 },
  );
  return {
    criticalDepthV: finiteOrNull(doubted.criticalDepthV),
    minimumDetectableDepthV: finiteOrNull(doubted.minimumDetectableDepthV),
    limitsOf: limits.limitsOf,
  };
}

function untouched(id: string, name: string, profile: LoadProfile | null, because: VerdictReason): LoadAnswer {
  return {
    id,
    name,
    verdict: "undecided",
    because,
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
    reference: profile?.reference ?? false,
  };
}
