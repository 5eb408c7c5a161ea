import type { LoadAnswer, UncertaintyBudget } from "../analysis.js";
import type { Detected } from "../detection/detect-in-windows.js";
import type { Switching } from "../detection/switching.js";
import type { Assumption, Warning } from "../notes.js";
import type { LoadProfile } from "../profile.js";
import { holmAdjusted } from "./holm.js";
import { type AnswerContext, answerLoad, depthOf, detectableDepths, type JudgedResponse } from "./load-answers.js";

/** Answers for all loads, and the limits of the recording as a whole. */
export interface AnsweredLoads {
  readonly loads: readonly LoadAnswer[];
  readonly budgets: readonly UncertaintyBudget[];
  readonly assumptions: readonly Assumption[];
  readonly warnings: readonly Warning[];
  readonly limits: { readonly criticalDepthV: number; readonly minimumDetectableDepthV: number };
}

/** Error rates of every response; the false-alarm rate is shared over the loads. */
export function judgeResponses(
  detected: Detected,
  switching: Switching,
  rates: { readonly falseAlarmRate: number; readonly power: number },
): JudgedResponse[] {
  const found = detected.loads.map(({ response, dips }) => ({
    response,
    load: switching.loads.find(({ id }) => id === response.id)!,
    dips,
  }));
  const share = rates.falseAlarmRate / Math.max(found.length, 1);
  const pValues = holmAdjusted(
    found.map(({ response, load }) => load.searched?.pValue ?? response.distribution.pValue(response.score)),
  );
  return found.map(({ response, load, dips }, k) => ({
    response,
    profile: load.profile,
    dips,
    pValue: pValues[k],
    ...(load.searched ?? detectableDepths(response, share, rates.power)),
    depth: depthOf(response),
    measuredA: null,
  }));
}

/** Verdicts on the loads that were switched, then the ones that were not. */
export function answerLoads(
  judged: readonly JudgedResponse[],
  switching: Switching,
  context: AnswerContext,
): AnsweredLoads {
  const answered = judged.map((one) => answerLoad(one, context));
  const missing = switching.loads.filter(({ id }) => !judged.some(({ response }) => response.id === id));
  const loads = [
    ...answered.map(({ answer }) => answer),
    ...missing.map((load) => untouched(load.id, load.name, load.profile)),
    ...switching.untouched.map((load) => untouched(load.id, load.name ?? load.id, load)),
  ];
  const assumptions: Assumption[] = answered.flatMap((one) => one.assumptions);
  if (context.source.known && context.source.toleranceFraction !== null && context.source.load !== null) {
    assumptions.push({
      code: "reference-tolerance",
      load: context.source.load,
      fraction: context.source.toleranceFraction,
    });
  }
  const warnings: Warning[] = answered.flatMap(({ answer }): Warning[] =>
    answer.because === "dips-disagree" ? [{ code: "dips-disagree", load: answer.id, ratio: 0 }] : [],
  );
  return {
    loads,
    budgets: answered.flatMap((one) => one.budgets),
    assumptions,
    warnings,
    limits: {
      criticalDepthV: worst(judged.map((one) => one.criticalDepthV)),
      minimumDetectableDepthV: worst(judged.map((one) => one.minimumDetectableDepthV)),
    },
  };
}

/** The limit of the recording is that of its least visible load. */
function worst(limitsV: readonly number[]): number {
  return limitsV.reduce((most, limit) => Math.max(most, limit), 0);
}

function untouched(id: string, name: string, profile: LoadProfile | null): LoadAnswer {
  return {
    id,
    name,
    verdict: "undecided",
    because: "never-switched",
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
