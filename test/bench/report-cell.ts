import type { CellName } from "./cells.js";
import { rateInterval } from "./distributions.js";
import type { Knowledge } from "./everyday.js";
import type { EverydayResult } from "./everyday-study.js";
import type { MarkKind } from "./simulate.js";
import { bootstrapped, controlledMean, type Measured, quantile, rootMeanSquare, tailQuantile } from "./statistics.js";
import { type Estimate, SCAN_THRESHOLDS, type Trial } from "./trial.js";

export interface CellInput {
  readonly cell: CellName;
  readonly knowledge: Knowledge;
  readonly marks: MarkKind;
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly trials: readonly Trial[];
  /** Largest scores of the clairvoyant's scan on recordings of their own: they set its threshold. */
  readonly scanMaxima: readonly number[];
  readonly everyday: readonly EverydayResult[];
}

export interface Rate extends Measured {
  readonly count: number;
  readonly total: number;
}

/** The figures of one cell, each with its limits; `null` where nothing was measured. */
export interface CellReport extends CellInput {
  /** Amplitude loss against the clairvoyant who knows what the detector is told, at the power. */
  readonly lossDb: Measured | null;
  /** Loss of one who is told times and shape and learns the noise, at the same false-alarm rate. */
  readonly learnerLossDb: Measured | null;
  /** Recordings on which the detector threw. */
  readonly failures: Rate;
  /** The same at one half. */
  readonly medianLossDb: Measured | null;
  readonly falseAlarms: Rate;
  /** Predicted minimum detectable depth over the measured one. */
  readonly predictedOverMeasured: Measured | null;
  /** Depth error over the bound at the clear depth: settled current x resistance, and mean fall while on. */
  readonly depthErrorOverBound: Measured | null;
  /** The same over the bound of one who does not know the shape either. */
  readonly depthErrorOverShapeFree: Measured | null;
  readonly depthBiasOverBound: Measured | null;
  readonly coverage: Rate | null;
  readonly acceptedCoverage: Rate | null;
  readonly onsetErrorOverBound: Measured | null;
  /** Over the bound of one who knows of the shape what the cell draws it from. */
  readonly onsetErrorOverShapeFree: Measured | null;
  readonly wrongNoResponse: Rate | null;
  readonly clairvoyantThreshold: number | null;
  readonly everydayLoss: readonly {
    readonly family: string;
    readonly settings: string;
    readonly lossDb: Measured;
    readonly falseAlarms: Rate;
  }[];
  /** Seeds of the worst recordings, for the one who mends the detector. */
  readonly worst: {
    readonly falseAlarmSeeds: readonly number[];
    readonly deepestFound: readonly { readonly seed: number; readonly overClairvoyant: number }[];
    readonly missedCoverage: readonly { readonly seed: number; readonly errorOverU: number }[];
    readonly wrongNoResponseSeeds: readonly number[];
    readonly failures: readonly { readonly seed: number; readonly depthV: number; readonly message: string }[];
  };
  readonly secondsPerJudgement: number;
}

export function reportCell(input: CellInput): CellReport {
  const { trials, power, falseAlarmRate, knowledge } = input;
  const threshold = input.scanMaxima.length === 0 ? null : tailQuantile(input.scanMaxima, falseAlarmRate);
  const reference = (trial: Trial) => clairvoyantFoundV(trial, threshold);
  const found = trials.filter((trial) => trial.foundV !== null);
  const detailed = trials.filter(({ estimates }) => estimates.length > 0);
  const loss = (probability: number) =>
    found.length === 0
      ? null
      : bootstrapped(found, (drawn) => lossDb(drawn, (t) => t.foundV ?? 0, reference, probability));
  const isFalseAlarm = (trial: Trial) => trial.empty.verdict === "responded";
  const deep = detailed.flatMap((trial) => pick(trial, "deep"));
  const near = detailed.flatMap((trial) => pick(trial, "threshold")).filter((e) => e.answer.verdict === "responded");
  return {
    ...input,
    lossDb: loss(power),
    learnerLossDb: learnerLoss(found, falseAlarmRate, power, knowledge),
    failures: rate(trials.filter(({ failures }) => failures.length > 0).length, trials.length),
    medianLossDb: loss(0.5),
    falseAlarms: rate(trials.filter(isFalseAlarm).length, trials.length),
    predictedOverMeasured:
      found.length === 0
        ? null
        : bootstrapped(
            found,
            (drawn) =>
              1 /
              quantile(
                drawn.map((t) => (t.foundV ?? 0) / t.empty.mdvV),
                power,
              ),
          ),
    depthErrorOverBound: rootOf(deep, errorOverBound),
    depthErrorOverShapeFree: rootOf(deep, (e) => (e.answer.depthV - e.trueV) / e.shapeFreeV),
    depthBiasOverBound: deep.length === 0 ? null : bootstrapped(deep, (drawn) => withoutLuck(drawn, errorOverBound)),
    coverage: deep.length === 0 ? null : rate(deep.filter(isCovered).length, deep.length),
    acceptedCoverage: near.length === 0 ? null : rate(near.filter(isCovered).length, near.length),
    onsetErrorOverBound: input.marks === "exact" ? null : onsets(detailed, ({ boundS }) => boundS),
    onsetErrorOverShapeFree: input.marks === "exact" ? null : onsets(detailed, ({ shapeFreeS }) => shapeFreeS),
    wrongNoResponse: detailed.length === 0 ? null : wrongNoResponse(detailed),
    clairvoyantThreshold: threshold,
    everydayLoss: input.everyday.map((way) => everydayLoss(way, input, reference)),
    worst: worstOf(trials, reference),
    secondsPerJudgement:
      trials.reduce((sum, t) => sum + t.processorS, 0) / trials.reduce((sum, t) => sum + t.judgeCount, 0),
  };
}

interface Estimated extends Estimate {
  readonly seed: number;
  readonly sigmaV: number;
  /** Luck of the recording's noise: the clairvoyant's standard normal score. */
  readonly luck: number;
}

function pick(trial: Trial, purpose: Estimate["purpose"]): Estimated[] {
  return trial.estimates
    .filter((estimate) => estimate.purpose === purpose && Number.isFinite(estimate.answer.depthV))
    .map((estimate) => ({ ...estimate, seed: trial.seed, sigmaV: trial.sigmaV, luck: trial.clairvoyant.score }));
}

const errorOverBound = ({ answer, trueV, sigmaV }: Estimated) => (answer.depthV - trueV) / sigmaV;

/** Root mean square with the luck of the noise taken out. */
function rootOf(estimates: readonly Estimated[], error: (estimate: Estimated) => number): Measured | null {
  if (estimates.length === 0) return null;
  return bootstrapped(estimates, (drawn) =>
    Math.sqrt(
      Math.max(
        0,
        withoutLuck(drawn, (e) => error(e) ** 2),
      ),
    ),
  );
}

function withoutLuck(drawn: readonly Estimated[], figure: (estimate: Estimated) => number): number {
  return controlledMean(
    drawn.map(figure),
    drawn.map(({ luck }) => luck),
    drawn.map(({ luck }) => luck ** 2 - 1),
  );
}

const isCovered = ({ answer, trueV }: Estimated) => answer.low <= trueV && trueV <= answer.high;

function clairvoyantFoundV({ clairvoyant }: Trial, threshold: number | null): number {
  if (threshold === null || clairvoyant.scanFoundV === null) return Math.max(0, clairvoyant.knownFoundV);
  const step = SCAN_THRESHOLDS[1] - SCAN_THRESHOLDS[0];
  const place = Math.min(SCAN_THRESHOLDS.length - 1.001, Math.max(0, (threshold - SCAN_THRESHOLDS[0]) / step));
  const k = Math.floor(place);
  const [low, high] = [clairvoyant.scanFoundV[k], clairvoyant.scanFoundV[k + 1]];
  return Math.max(0, low + (place - k) * (high - low));
}

function lossDb<T extends { readonly sigmaV: number }>(
  drawn: readonly T[],
  found: (item: T) => number,
  reference: (item: T) => number,
  probability: number,
): number {
  const ours = quantile(
    drawn.map((item) => found(item) / item.sigmaV),
    probability,
  );
  return (
    20 *
    Math.log10(
      ours /
        quantile(
          drawn.map((item) => reference(item) / item.sigmaV),
          probability,
        ),
    )
  );
}

function everydayLoss(way: EverydayResult, { trials, power }: CellInput, reference: (trial: Trial) => number) {
  const bySeed = new Map(trials.map((trial) => [trial.seed, trial]));
  const pairs = way.tests.flatMap(({ seed, foundV }) => {
    const trial = bySeed.get(seed);
    return trial === undefined ? [] : [{ sigmaV: trial.sigmaV, foundV, referenceV: reference(trial) }];
  });
  return {
    family: way.family,
    settings: way.settings,
    lossDb: bootstrapped(pairs, (drawn) =>
      lossDb(
        drawn,
        (p) => p.foundV,
        (p) => p.referenceV,
        power,
      ),
    ),
    falseAlarms: rate(way.tests.filter(({ isFalseAlarm }) => isFalseAlarm).length, way.tests.length),
  };
}

/** The learner's threshold comes from the same recordings: exponential tail. */
function learnerLoss(
  found: readonly Trial[],
  falseAlarmRate: number,
  power: number,
  knowledge: Knowledge,
): Measured | null {
  const learnt = found.flatMap((trial) => (trial.learner === null ? [] : [{ ...trial, learner: trial.learner }]));
  if (learnt.length === 0 || knowledge !== "marked") return null;
  return bootstrapped(learnt, (drawn) => {
    const threshold = tailQuantile(
      drawn.map(({ learner }) => learner.score),
      falseAlarmRate,
    );
    return lossDb(
      drawn,
      ({ learner }) => Math.max(0, threshold - learner.score) / learner.gainPerV,
      (trial) => clairvoyantFoundV(trial, null),
      power,
    );
  });
}

function onsets(detailed: readonly Trial[], bound: (one: Trial["onsets"][number]) => number): Measured | null {
  const errors = detailed.map(({ onsets }) => onsets.map((one) => one.errorS / bound(one))).filter((e) => e.length > 0);
  return errors.length === 0 ? null : bootstrapped(errors, (drawn) => rootMeanSquare(drawn.flat()));
}

function wrongNoResponse(detailed: readonly Trial[]): Rate {
  const asked = detailed.flatMap(({ accepted }) => accepted);
  return rate(asked.filter(({ verdict }) => verdict === "no response").length, asked.length);
}

function worstOf(trials: readonly Trial[], reference: (trial: Trial) => number): CellReport["worst"] {
  const found = trials.flatMap((t) =>
    t.foundV === null ? [] : [{ seed: t.seed, overClairvoyant: (t.foundV - reference(t)) / t.sigmaV }],
  );
  const missed = trials
    .flatMap((trial) => pick(trial, "deep"))
    .filter((estimate) => !isCovered(estimate))
    .map(({ seed, answer, trueV }) => ({ seed, errorOverU: (answer.depthV - trueV) / answer.u }));
  return {
    falseAlarmSeeds: trials.filter(({ empty }) => empty.verdict === "responded").map(({ seed }) => seed),
    deepestFound: found.sort((a, b) => b.overClairvoyant - a.overClairvoyant).slice(0, 5),
    missedCoverage: missed.sort((a, b) => Math.abs(b.errorOverU) - Math.abs(a.errorOverU)).slice(0, 8),
    wrongNoResponseSeeds: trials
      .filter(({ accepted }) => accepted.some(({ verdict }) => verdict === "no response"))
      .map(({ seed }) => seed),
    failures: trials.flatMap(({ seed, failures }) => failures.slice(0, 1).map((failure) => ({ seed, ...failure }))),
  };
}

function rate(count: number, total: number): Rate {
  return { count, total, value: count / total, ...rateInterval(count, total) };
}
