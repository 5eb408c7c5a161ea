import { depthBoundV, onsetBoundsS, type ShapeDoubt, shapeFreeDepthBoundV, shapeFreeOnsetBoundsS } from "./bounds.js";
import { CELLS, type CellName, type CellSettings } from "./cells.js";
import { clairvoyantScores, smallestFoundV } from "./clairvoyant.js";
import { standardNormalQuantile } from "./distributions.js";
import type { Knowledge } from "./everyday.js";
import { learnerScore } from "./learner.js";
import { type Answer, judge } from "./ours.js";
import type { Range } from "./random.js";
import { type MarkKind, type SimulatedRecording, simulateRecording, withDepth } from "./simulate.js";

export interface TrialPlan {
  readonly cell: CellName;
  readonly knowledge: Knowledge;
  readonly marks: MarkKind;
  /** Switchings of 5 s, 5 s apart, without a cold start, in the place of the cell's: those that a search tells its limit of. */
  readonly plainDips: boolean;
  readonly falseAlarmRate: number;
  readonly power: number;
  /** Also search the smallest depth that is found: some eight analyses more. */
  readonly wantsFound: boolean;
  /** Also estimate dips of known depth and test `no response`: five analyses more. */
  readonly wantsEstimates: boolean;
}

/** Thresholds at which the clairvoyant's smallest found depth is tabulated; the right one is known afterwards. */
export const SCAN_THRESHOLDS = Array.from({ length: 81 }, (_, k) => 2 + 0.05 * k);

/** All that the bench asks of one recording; depths in volts of `depthV`. */
export interface Trial {
  readonly seed: number;
  readonly sigmaV: number;
  readonly meanDepthPerV: number;
  readonly clairvoyant: {
    /** Standard normal by construction: the luck of this recording's noise. */
    readonly score: number;
    readonly knownFoundV: number;
    readonly scanFoundV: readonly number[] | null;
  };
  readonly empty: Answer;
  readonly foundV: number | null;
  readonly estimates: readonly Estimate[];
  readonly onsets: readonly { readonly errorS: number; readonly boundS: number; readonly shapeFreeS: number }[];
  /** Verdicts on a load at its lowest acceptable current, whose dip is `ratio` x the recording's own predicted MDV. */
  readonly accepted: readonly { readonly ratio: number; readonly verdict: Answer["verdict"] }[];
  /** What the detector threw, by the depth in volts at which it did. */
  readonly failures: readonly { readonly depthV: number; readonly message: string }[];
  /** Of one who knows times and shape and learns the noise; null where not asked or 1/f noise stands in the way. */
  readonly learner: { readonly score: number; readonly gainPerV: number } | null;
  /** Of the detector alone. */
  readonly processorS: number;
  readonly judgeCount: number;
}

export interface Estimate {
  readonly purpose: "deep" | "threshold" | "onset";
  readonly trueV: number;
  /** Bound for one who knows of the shape and the edges only what the cell's settings say. */
  readonly shapeFreeV: number;
  readonly answer: Answer;
}

const PLAIN_DIPS: Partial<CellSettings> = { onS: 5, offS: 5, inrush: [0, 0] };

export function runTrial(plan: TrialPlan, seed: number): Trial {
  const settings = plan.plainDips ? PLAIN_DIPS : {};
  const empty = simulateRecording(plan.cell, { seed, depthV: 0, marks: plan.marks, settings });
  const sigmaV = depthBoundV(empty);
  const scores = clairvoyantScores(empty, plan.knowledge !== "marked");
  const knownThreshold = standardNormalQuantile(1 - plan.falseAlarmRate);
  const failures: { depthV: number; message: string }[] = [];
  let judgeCount = 0;
  let processorS = 0;
  const ask = (recording: SimulatedRecording, expectedDepthV?: number): Answer => {
    const start = process.cpuUsage();
    const { falseAlarmRate, power, knowledge } = plan;
    const expected = expectedDepthV === undefined ? {} : { expectedDepthV };
    const answer = judge(recording, { falseAlarmRate, power, knowledge, ...expected });
    const used = process.cpuUsage(start);
    processorS += (used.user + used.system) / 1e6;
    if (answer.failure !== null) failures.push({ depthV: recording.depthV, message: answer.failure });
    judgeCount++;
    return answer;
  };
  const answerEmpty = ask(empty);
  const foundV = plan.wantsFound ? searchFoundV(empty, answerEmpty, sigmaV, plan.falseAlarmRate, ask) : null;
  const estimates = plan.wantsEstimates ? estimateDips(empty, sigmaV, plan, ask) : [];
  const deep = estimates.find(({ purpose }) => purpose === "onset");
  return {
    seed,
    sigmaV,
    meanDepthPerV: empty.meanDepthPerV,
    clairvoyant: {
      score: scores.known.score,
      knownFoundV: smallestFoundV([scores.known], knownThreshold),
      scanFoundV: scores.scan.length === 0 ? null : SCAN_THRESHOLDS.map((u) => smallestFoundV(scores.scan, u)),
    },
    empty: answerEmpty,
    foundV,
    estimates,
    onsets: deep === undefined ? [] : onsetErrors(withDepth(empty, deep.trueV), deep.answer, doubtOf(plan)),
    accepted: plan.wantsEstimates ? askAccepted(empty, answerEmpty, ask) : [],
    failures,
    learner: plan.wantsFound && canLearn(empty) ? learnerScore(empty) : null,
    processorS,
    judgeCount,
  };
}

function canLearn({ truth, timesS }: SimulatedRecording): boolean {
  return truth.parts.flickerVPerRtHz === 0 && truth.quantumV === 0 && timesS.length < 4000;
}

type Ask = (recording: SimulatedRecording, expectedDepthV?: number) => Answer;

/** Depth at which the verdict turns to `responded`: secant steps on the p-value's normal score inside a bracket. */
function searchFoundV(
  empty: SimulatedRecording,
  answerEmpty: Answer,
  sigmaV: number,
  falseAlarmRate: number,
  ask: Ask,
): number {
  const target = standardNormalQuantile(1 - falseAlarmRate);
  if (answerEmpty.verdict === "responded") return 0;
  let low = { depthV: 0, score: scoreOf(answerEmpty) };
  let high: { depthV: number; score: number } | null = null;
  let nextV = sigmaV * Math.min(8, Math.max(0.5, target - low.score + 0.3));
  for (let round = 0; round < 12; round++) {
    const answer = ask(withDepth(empty, nextV));
    const point = { depthV: nextV, score: scoreOf(answer) };
    if (answer.verdict === "responded") high = point;
    else low = point;
    if (high === null) {
      if (nextV > 60 * sigmaV) return Number.POSITIVE_INFINITY;
      nextV = Math.max(nextV + 0.5 * sigmaV, 1.4 * nextV);
      continue;
    }
    const widthV = high.depthV - low.depthV;
    if (widthV < 0.06 * sigmaV || widthV < 0.01 * high.depthV) break;
    const slope = (high.score - low.score) / widthV;
    const guessV = slope > 0 ? low.depthV + (target - low.score) / slope : Number.NaN;
    const isInside = guessV > low.depthV + 0.05 * widthV && guessV < high.depthV - 0.05 * widthV;
    // Every third step halves the bracket, whatever the p-values promise.
    nextV = isInside && round % 3 !== 2 ? guessV : (low.depthV + high.depthV) / 2;
  }
  return high === null ? Number.POSITIVE_INFINITY : (low.depthV + high.depthV) / 2;
}

function scoreOf({ pValue }: Answer): number {
  return -standardNormalQuantile(Math.min(1 - 1e-12, Math.max(1e-300, pValue)));
}

/** Depths in bounds' standard deviations: clear, near the threshold (about half are accepted), and very clear. */
function estimateDips(empty: SimulatedRecording, sigmaV: number, plan: TrialPlan, ask: Ask): Estimate[] {
  const { knowledge } = plan;
  const doubt = doubtOf(plan);
  const depths = { deep: knowledge === "marked" ? 5 : 7, threshold: knowledge === "marked" ? 2.6 : 4.2, onset: 15 };
  return (Object.keys(depths) as (keyof typeof depths)[]).map((purpose) => {
    const trueV = depths[purpose] * sigmaV;
    const recording = withDepth(empty, trueV);
    return { purpose, trueV, shapeFreeV: shapeFreeDepthBoundV(recording, doubt), answer: ask(recording) };
  });
}

/** Standard deviations of the even distributions that the cell draws from; long cells' shapes never vary: as short. */
function doubtOf({ cell, knowledge, marks }: TrialPlan): ShapeDoubt {
  const { inrush, settleS, polarization, lagS, markErrorS } = CELLS[cell];
  const spread = ([low, high]: Range) => (high - low) / Math.sqrt(12);
  const jittered = marks === "jittered" ? markErrorS : 0;
  const known: ShapeDoubt = {
    inrush: spread(inrush),
    logSettle: spread([Math.log(settleS[0]), Math.log(settleS[1])]),
    polarization: spread(polarization),
    lagS: spread(lagS),
    edgeS: knowledge === "marked" ? jittered : Number.POSITIVE_INFINITY,
  };
  return known.inrush > 0 ? known : { ...known, inrush: 0.29, logSettle: 0.32, polarization: 0.09, lagS: 0.12 };
}

/** Nearest told onset to each true one. */
function onsetErrors(recording: SimulatedRecording, answer: Answer, doubt: ShapeDoubt) {
  const bounds = onsetBoundsS(recording);
  const shapeFree = shapeFreeOnsetBoundsS(recording, doubt);
  return recording.onTimes.flatMap(({ onS }, k) => {
    const errors = answer.onsetsS.map((toldS) => toldS - onS);
    if (errors.length === 0) return [];
    const errorS = errors.reduce((best, error) => (Math.abs(error) < Math.abs(best) ? error : best));
    return [{ errorS, boundS: bounds[k], shapeFreeS: shapeFree[k] }];
  });
}

function askAccepted(empty: SimulatedRecording, answerEmpty: Answer, ask: Ask) {
  return [1.03, 1.4].map((ratio) => {
    const expectedV = ratio * answerEmpty.mdvV;
    return { ratio, verdict: ask(withDepth(empty, expectedV), expectedV).verdict };
  });
}
