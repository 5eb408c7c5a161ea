import type { LoadAnswer, UncertaintyBudget } from "../analysis.js";
import type { MarkedResponse } from "../detection/marked-response.js";
import { switchingsDisagree } from "../detection/single-dips.js";
import { deepestBesideV } from "../detection/unmarked-dips.js";
import { currentByReference, currentFromResistance, type LoadCurrent } from "../estimation/load-current.js";
import { propagatedQuantity } from "../estimation/propagated-quantity.js";
import { growthToStatedTime } from "../estimation/stated-time.js";
import { type BudgetInput, uncertaintyBudget } from "../estimation/uncertainty-budget.js";
import type { Assumption, UnknownReason } from "../notes.js";
import { COVERAGE, normalQuantity, quantityFromMixture, selectionAdjusted } from "../quantity/interval.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import { normalQuantile } from "../statistics/distribution.js";
import { mixtureQuantile } from "../statistics/normal-mixture.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { asAccepted } from "./as-accepted.js";
import { depthBudget } from "./depth-budget.js";
import { type AnswerContext, isClear, type JudgedResponse } from "./judged-response.js";
import { finiteOrNull, largestHiddenDepthV, withCommonDoubt, withSharedGain } from "./shared-doubt.js";
import { judge } from "./verdict.js";

export interface AnsweredLoad {
  readonly answer: LoadAnswer;
  readonly budgets: readonly UncertaintyBudget[];
  readonly assumptions: readonly Assumption[];
}

/** Critical and minimum detectable depth of one response at a share of the false-alarm rate. */
export function detectableDepths(
  response: MarkedResponse,
  falseAlarmRate: number,
  power: number,
): { readonly criticalDepthV: number; readonly minimumDetectableDepthV: number } {
  const criticalScore = response.distribution.criticalScore(falseAlarmRate);
  return {
    criticalDepthV: response.distribution.detectableSize(criticalScore, 0.5) * response.expectedVoltsPerScore,
    minimumDetectableDepthV:
      response.distribution.detectableSize(criticalScore, power) * response.expectedVoltsPerScore,
  };
}

/** Depth of a response with its interval. */
export function depthOf(response: MarkedResponse): Quantity<"V"> {
  const route = response.roundingCounted ? "interval-likelihood" : "generalized-least-squares";
  return quantityFromMixture(response.depth, "V", route);
}

/** Verdict, depth and current of one load. */
export function answerLoad(judged: JudgedResponse, context: AnswerContext): AnsweredLoad {
  const { response, profile, depth } = judged;
  const expectedDepthV =
    profile?.acceptA === undefined || context.lowestResistanceOhm === null
      ? null
      : profile.acceptA[0] * context.lowestResistanceOhm;
  const judgement = judge({
    pValue: judged.pValue,
    falseAlarmRate: context.falseAlarmRate,
    depthV: depth.value,
    upperDepthV: largestHiddenDepthV(
      upperDepthV(judged, context.falseAlarmRate),
      context.gainUncertainty,
      Math.min(context.falseAlarmRate, 0.01),
    ),
    displayShareV: judged.displayBias.mostV,
    frozen: context.frozen,
    atEnd: context.atEnd,
    frictionUntold: context.frictionUntold,
    movementDoubtful: movementDoubtful(judged, expectedDepthV, context.falseAlarmRate),
    sourceNotShown: context.sourceNotShown,
    besideMarksV:
      judged.pValue > context.falseAlarmRate
        ? context.besideMarks.deepestV
        : deepestBesideV(context.besideMarks, response.onTimes),
    isClear: isClear(judged),
    indistinct: judged.indistinct,
    switchingUntold: judged.surelyDetectableDepthV !== null && !context.cadenceTold,
    minimumDetectableDepthV: judged.minimumDetectableDepthV,
    expectedDepthV,
    switchingCount: response.onTimes.length,
    strayed: judged.strayed,
    marksOff: judged.marksOffS !== null,
    besideOwnMarks: judged.besideOwnMarks,
    rhythmGoesOn: judged.rhythmGoesOn,
    maybeOneStep: judged.maybeOneStep,
    maybeWander: judged.maybeWander,
    unfit: judged.unfit,
    switchingsDisagree: switchingsDisagree(judged.dips) || judged.edgesDisagree,
    sourceRegulated: context.sourceRegulated,
  });
  const responded = judgement.verdict === "responded";
  const untold = depthUntold(judged, context);
  const seen = responded || judged.unfit || judged.surelyDetectableDepthV === null;
  const accepted = responded ? withHidden(selectionAdjusted(depth, judged.acceptedFromV), judged) : depth;
  const currents = responded ? respondedCurrent(judged, accepted, context) : unknownCurrent("load-did-not-respond");
  const assumptions: Assumption[] = [];
  const settles = responded && !context.atEnd && settlingShows(response);
  if (settles) {
    assumptions.push({ code: "settling-seen", load: response.id, timeConstantS: response.shape.settleS });
  }
  if (untold !== null) {
    assumptions.push({ code: "not-identifiable", what: "depth", load: response.id, why: untold });
  }
  if (currents.reason !== null) {
    assumptions.push({ code: "not-identifiable", what: "current", load: response.id, why: currents.reason });
  }
  const coldFactor = settles ? 1 + response.shape.inrush : null;
  return {
    answer: {
      id: response.id,
      name: profile?.name ?? response.id,
      ...judgement,
      pValue: judged.pValue,
      switchingCount: seen ? response.onTimes.length : 0,
      // The best of a search that found nothing is the largest of many noises: no estimate of anything.
      depth: seen && untold === null ? withSharedGain(accepted, context.gainUncertainty) : null,
      coldDepth:
        coldFactor === null
          ? null
          : withSharedGain(withCommonDoubt(coldDepth(response), judged.commonV), context.gainUncertainty),
      expectedDepthV,
      criticalDepthV: finiteOrNull(judged.criticalDepthV),
      minimumDetectableDepthV: finiteOrNull(judged.minimumDetectableDepthV),
      current: currents.current,
      coldCurrent:
        coldFactor === null || currents.current === null ? null : scaled(currents.current, response, context.random),
      reference: profile?.reference ?? false,
    },
    budgets: [
      ...(untold !== null ? [] : [depthBudget(judged, accepted, context.displayStepV, context.gainUncertainty)]),
      ...currents.budgets,
    ],
    assumptions,
  };
}

/** What display or friction hides of a dip has nothing to do with its having been accepted: it stays in the interval. */
function withHidden(accepted: Quantity<"V">, { depth, displayBias }: JudgedResponse): Quantity<"V"> {
  const hidden = Math.min(depth.high, depth.value + displayBias.mostV);
  return accepted.high >= hidden ? accepted : { ...accepted, high: hidden };
}

/** Why no depth is told of a load, whatever its verdict. */
function depthUntold({ marksOffS }: JudgedResponse, { atEnd }: AnswerContext): "meter-at-end" | "marks-off" | null {
  if (atEnd) return "meter-at-end";
  return marksOffS === null ? null : "marks-off";
}

/** Current of a load that responded. */
function respondedCurrent(judged: JudgedResponse, accepted: Quantity<"V">, context: AnswerContext) {
  return context.atEnd && judged.measuredA === null
    ? unknownCurrent("meter-at-end")
    : currentOf(judged, accepted, context);
}

/** Whether only the doubt that readings share keeps the load from having responded, or its missing dip from being told. */
function movementDoubtful(
  { undoubted, pValue, minimumDetectableDepthV }: JudgedResponse,
  expectedDepthV: number | null,
  falseAlarmRate: number,
): boolean {
  if (undoubted.pValue <= falseAlarmRate && pValue > falseAlarmRate) return true;
  return (
    expectedDepthV !== null &&
    undoubted.minimumDetectableDepthV <= expectedDepthV &&
    minimumDetectableDepthV > expectedDepthV
  );
}

/** What the true depth hardly exceeds, volts: by noise and display, and where switchings differ by their own interval too. */
function upperDepthV(judged: JudgedResponse, falseAlarmRate: number): number {
  const { displayBias, surelyDetectableDepthV, response, depth } = judged;
  if (surelyDetectableDepthV !== null) return displayBias.mostV + surelyDetectableDepthV;
  const rate = Math.min(falseAlarmRate, 0.01);
  const byNoiseV = mixtureQuantile(response.depth, 1 - rate) + normalQuantile(1 - rate) * judged.commonV;
  return Math.max(displayBias.mostV + byNoiseV, depth.high);
}

/** Inrush of at least three standard uncertainties and a tenth of the settled current. */
function settlingShows(response: MarkedResponse): boolean {
  const { refined } = response;
  return refined !== null && refined.shape.inrush > 0.1 && refined.shape.inrush > 3 * refined.uInrush;
}

function coldDepth(response: MarkedResponse): Quantity<"V"> {
  const { depthV, uDepthV, uInrush, depthInrushCovarianceV, shape } = response.refined!;
  const factor = 1 + shape.inrush;
  const variance = squared(factor * uDepthV) + squared(depthV * uInrush) + 2 * factor * depthV * depthInrushCovarianceV;
  return normalQuantity(factor * depthV, Math.sqrt(Math.max(variance, 0)), "V", "generalized-least-squares");
}

/** Current right after switching on, from the settled one and the cold share. */
function scaled(current: Quantity<"A">, response: MarkedResponse, random: RandomGenerator): Quantity<"A"> {
  const { shape, uInrush } = response.refined!;
  const factor = 1 + shape.inrush;
  const u = rootSumSquares(current.u * factor, current.value * uInrush);
  return propagatedQuantity(
    { value: current.value * factor, u, unit: "A", route: current.route },
    (generator) => (current.value + current.u * generator.normal()) * (factor + uInrush * generator.normal()),
    random,
  ).quantity;
}

interface FoundCurrent {
  readonly current: Quantity<"A"> | null;
  readonly budgets: readonly UncertaintyBudget[];
  readonly reason: UnknownReason | null;
}

function unknownCurrent(reason: UnknownReason): FoundCurrent {
  return { current: null, budgets: [], reason };
}

/** Measured, rated (the reference itself), by the reference's dip, or by a known resistance, in this order. */
function currentOf(judged: JudgedResponse, depth: Quantity<"V">, context: AnswerContext): FoundCurrent {
  const { source } = context;
  if (judged.measuredA !== null) {
    const { value, u } = judged.measuredA;
    const input: BudgetInput = { source: "measured-current", value, unit: "A", u, sensitivity: 1 };
    return found(judged, normalQuantity(value, u, "A", "measured-current"), [input], "first-order");
  }
  if (!source.known) return unknownCurrent(source.reason);
  const taken = source.currents.find(({ load }) => load === judged.response.id);
  if (taken !== undefined) {
    const { value, u } = taken.currentA;
    const input: BudgetInput = { source: "reference-rating", value, unit: "A", u, sensitivity: 1 };
    const rated = { value, u, unit: "A", route: "reference-load" } as const;
    const { quantity, method } = propagatedQuantity(rated, taken.drawA, context.random);
    return found(judged, quantity, [input], method);
  }
  // The gain of the readings cancels where their own dips gave the resistance.
  const isTold = source.route === "known-resistance";
  const { value, u } = isTold ? withSharedGain(depth, context.gainUncertainty) : depth;
  const own: Uncertain = { value, u };
  const answer =
    source.current === null
      ? currentFromResistance(
          own,
          { value: source.resistanceOhm, u: source.uOhm },
          {
            coverage: COVERAGE,
            random: context.random,
            drawCount: 20_000,
            // What the profile tells is a resistance of the stated time, the dip's depth is an immediate one.
            ...(isTold ? { growth: growthToStatedTime(judged.response.shape) } : {}),
          },
        )
      : currentByReference(
          {
            depth: own,
            referenceDepth: referenceDepth(source.resistanceOhm, source.current, source.rows),
            referenceCurrentA: source.current,
          },
          { coverage: COVERAGE },
        );
  if (!answer.known) return unknownCurrent(answer.reason);
  const plain = currentQuantity(answer, source.route);
  const current = asAccepted(plain, plain.value / depth.value, depth, judged.depth);
  return found(judged, { ...current, low: Math.max(0, current.low) }, answer.rows, answer.method);
}

function referenceDepth(resistanceOhm: number, current: Uncertain, rows: readonly BudgetInput[]): Uncertain {
  const row = rows.find(({ source }) => source === "reference-depth" || source === "depth");
  return row === undefined ? { value: resistanceOhm * current.value, u: 0 } : { value: row.value, u: row.u };
}

function currentQuantity(found: LoadCurrent, route: Quantity<"A">["route"]): Quantity<"A"> {
  return {
    value: found.currentA,
    u: found.uA,
    unit: "A",
    low: found.low,
    high: found.high,
    coverage: COVERAGE,
    route,
  };
}

function found(
  judged: JudgedResponse,
  current: Quantity<"A">,
  inputs: readonly BudgetInput[],
  method: UncertaintyBudget["method"],
): FoundCurrent {
  const head = { quantity: "current", load: judged.response.id, unit: "A", value: current.value, method } as const;
  return { current, budgets: [uncertaintyBudget(inputs, head)], reason: null };
}
