import { firstAtOrAfter } from "../detection/switching-template.js";
import { displayStepV } from "../noise/display-step.js";
import type { Recording } from "../series/recording.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { type ReadingNoise, readingNoise } from "../statistics/reading-noise.js";
import { type Answer, unanswered } from "./answer.js";
import type { Baseline } from "./baseline.js";
import { type CurrentStep, currentNoise } from "./current-step.js";
import { levelAt } from "./level-at.js";
import { CLAMP_GAIN_FRACTION } from "./measured-current.js";
import {
  baseOf,
  FIRST_WITHIN_S,
  firstSettled,
  loosened,
  movedAfter,
  movedBefore,
  onsetFromVoltage,
  type StepSetting,
} from "./step-readings.js";
import type { BudgetInput } from "./uncertainty-budget.js";

/** Resistance at a stated time after a step of the current. */
export interface ResistanceAtStep {
  readonly resistanceOhm: number;
  readonly uOhm: number;
  /** Change of voltage and current that it rests on. */
  readonly changeV: number;
  readonly changeA: number;
  /** Parts of `uOhm`, uncorrelated. */
  readonly rows: readonly BudgetInput[];
}

export interface StepResistance {
  readonly step: CurrentStep;
  /** Whether the battery was being charged before or after the step. */
  readonly charging: boolean;
  readonly answers: readonly TimedAnswer[];
}

export interface TimedAnswer {
  /** Seconds from the onset of the step. */
  readonly atS: number;
  /** Whether this is the first usable reading after the step rather than a stated time. */
  readonly first: boolean;
  readonly answer: Answer<ResistanceAtStep>;
}

export interface StepResistanceOptions {
  /** Times after the step; 1 s and 10 s when left out. Times after the end of the new level are left out. */
  readonly atS?: readonly number[];
  /** Time constant of the voltmeter; readings within four of them after the step are not used. */
  readonly lagS?: number;
  /** Noise of the voltage readings; estimated when left out. */
  readonly noise?: ReadingNoise;
  /**
   * Standard uncertainty of the offset between the clocks of voltage and current, seconds; 0 when left out. Steps are
   * then looked for in the voltage within two of it.
   */
  readonly clockUncertaintyS?: number;
  /** Standard uncertainty of the gain of the clamp. {@link CLAMP_GAIN_FRACTION} when left out. */
  readonly gainFraction?: number;
  /** 1 where a positive current discharges, -1 where it charges; told from the steps when left out or null. */
  readonly dischargeSign?: 1 | -1 | null;
}

const DEFAULT_AT_S = [1, 10];

/**
 * Source resistance from each step of the measured current, at the first usable reading and at stated times after it.
 *
 * Uses changes of voltage and current only, so that an offset of the clamp cancels. The voltage before the step is a
 * line through the readings before it; its drift is carried on under a load switched on, give or take half of it, and
 * not under one switched off, where the whole of it stands in the uncertainty.
 * `not-sampled-together` where the voltage moves before the current does, `sampled-too-slowly` where the readings are
 * too far apart for the time asked.
 *
 * Source: change of voltage over change of current at a stated time, as in IEC 61960-3, d.c. internal resistance.
 */
export function resistanceAtSteps(
  recording: Recording,
  steps: readonly CurrentStep[],
  options: StepResistanceOptions = {},
): readonly StepResistance[] {
  const { timesS, voltagesV, current } = recording;
  if (current === undefined || steps.length === 0) return [];
  const quantumV = displayStepV(voltagesV) ?? 0;
  const noise = options.noise ?? readingNoise(timesS, voltagesV);
  const setting: StepSetting = {
    timesS,
    voltagesV,
    current,
    quantumV,
    sigmaV: Math.max(noise.sigma, quantumV / Math.sqrt(12), 1e-7 * Math.abs(voltagesV[0])),
    correlationS: noise.correlationS,
    quantumA: currentNoise(current.currentsA).quantumA,
    lagS: options.lagS ?? 0,
    gainFraction: options.gainFraction ?? CLAMP_GAIN_FRACTION,
    atS: options.atS ?? DEFAULT_AT_S,
  };
  const ratios = unlessAsynchronous(
    steps
      .map((step) => onsetFromVoltage(setting, loosened(step, options.clockUncertaintyS ?? 0)))
      .map((step) => ({ step, answers: answersOf(setting, step) })),
  );
  const sign = options.dischargeSign ?? dischargeSign(ratios.flatMap(({ answers }) => answers)) ?? 1;
  return ratios.map(({ step, answers }) => ({
    step,
    charging: isCharging(step, sign, setting.quantumA),
    answers: answers.map((timed) => ({ ...timed, answer: signed(timed.answer, sign) })),
  }));
}

/**
 * 1 where the voltage falls as the current rises (a positive current discharges), -1 where it rises with it; null
 * where no step tells.
 */
export function dischargeSign(answers: readonly TimedAnswer[]): 1 | -1 | null {
  let sum = 0;
  let variance = 0;
  for (const { answer } of answers) {
    if (!answer.known) continue;
    const weight = squared(answer.changeA);
    sum += weight * (answer.changeV / answer.changeA);
    variance += squared(weight * answer.uOhm);
  }
  if (!(squared(sum) > 4 * variance)) return null;
  return sum < 0 ? 1 : -1;
}

/**
 * Where the steps that were clearly not sampled together outweigh the others (by the square of the current), none of the
 * recording's steps is to be trusted.
 */
function unlessAsynchronous(
  ratios: readonly { step: CurrentStep; answers: TimedAnswer[] }[],
): readonly { step: CurrentStep; answers: TimedAnswer[] }[] {
  let apart = 0;
  let together = 0;
  for (const { step, answers } of ratios) {
    if (answers.some(({ answer }) => answer.known)) together += squared(step.deltaA);
    else if (answers.some(({ answer }) => !answer.known && answer.reason === "not-sampled-together")) {
      apart += squared(step.deltaA);
    }
  }
  if (apart <= together) return ratios;
  return ratios.map(({ step, answers }) => ({
    step,
    answers: answers.map((timed) => ({ ...timed, answer: unanswered("not-sampled-together") })),
  }));
}

function answersOf(setting: StepSetting, step: CurrentStep): TimedAnswer[] {
  const { timesS } = setting;
  const lastBefore = firstAtOrAfter(timesS, step.beforeS + 1e-9 * Math.max(1, Math.abs(step.beforeS))) - 1;
  const base = baseOf(setting, step, timesS[lastBefore]);
  const firstAfter = base === null ? null : firstSettled(setting, step, base);
  const stated = setting.atS.filter((atS) => step.onsetS + atS <= step.quietToS);
  if (base === null || firstAfter === null) {
    return [
      { atS: 0, first: true, answer: unanswered("sampled-too-slowly") },
      ...stated.map((atS) => ({ atS, first: false, answer: unanswered("sampled-too-slowly") })),
    ];
  }
  const firstAtS = timesS[firstAfter] - step.onsetS;
  const times = [{ atS: firstAtS, first: true }, ...stated.map((atS) => ({ atS, first: false }))];
  if (movedBefore(setting, step, lastBefore, firstAfter) || movedAfter(setting, step, base)) {
    return times.map((time) => ({ ...time, answer: unanswered("not-sampled-together") }));
  }
  return times.map((time) => {
    const tooSoon = time.atS < firstAtS - 1e-6 || step.uOnsetS > 0.3 * time.atS;
    const late = time.first && firstAtS > FIRST_WITHIN_S;
    if (late || (!time.first && tooSoon)) return { ...time, answer: unanswered("sampled-too-slowly") };
    return { ...time, answer: ratioAt(setting, step, base, timesS[firstAfter], time.atS) };
  });
}

/** Change of voltage over change of current, in the file's own sign. */
function ratioAt(
  setting: StepSetting,
  step: CurrentStep,
  base: Baseline,
  startS: number,
  atS: number,
): Answer<ResistanceAtStep> {
  const place = { originS: step.onsetS, atS, startS, endS: step.quietToS };
  const after = levelAt(setting.timesS, setting.voltagesV, place, setting.correlationS);
  if (after === null) return unanswered("sampled-too-slowly");
  const { timesS, currentsA } = setting.current;
  const currentPlace = { ...place, startS: step.afterS };
  const currentAfter = levelAt(timesS, currentsA, currentPlace, 0)?.level ?? step.afterA;

  // Under a load switched on, the recovery from earlier loads goes on, give or take half of it. The fall under a load
  // that is switched off may go on or end.
  const switchedOn = Math.abs(step.afterA) > Math.abs(step.beforeA);
  const driftShare = switchedOn ? 1 : 0;
  const uDriftShare = (switchedOn ? 0.5 : 1) / Math.sqrt(3);
  const drift = driftShare * base.slope * atS;
  const changeV = after.level - base.level - drift;
  const changeA = currentAfter - step.beforeA;
  const perAmpere = 1 / changeA;
  const uDisplay = setting.quantumV / Math.sqrt(12);
  const sigmaV = Math.sqrt(Math.max(0, squared(setting.sigmaV) - squared(uDisplay)));
  const uBase = rootSumSquares(
    Math.sqrt(
      Math.max(
        0,
        squared(base.uLevel) + 2 * driftShare * base.covariance * atS + squared(driftShare * base.uSlope * atS),
      ),
    ),
    uDriftShare * base.slope * atS,
  );
  const uReadings = rootSumSquares(sigmaV * after.noiseFactor, uBase);
  const uTiming = (after.slope - base.slope) * step.uOnsetS;
  const uCurrent = rootSumSquares(step.uDeltaA, setting.gainFraction * changeA);
  const ratio = changeV / changeA;
  const rows: BudgetInput[] = [
    { source: "reading-noise", value: changeV, unit: "V", u: uReadings, sensitivity: perAmpere },
    { source: "display-step", value: setting.quantumV, unit: "V", u: Math.SQRT2 * uDisplay, sensitivity: perAmpere },
    { source: "switching-time-and-shape", value: 0, unit: "V", u: Math.abs(uTiming), sensitivity: perAmpere },
    { source: "measured-current", value: changeA, unit: "A", u: uCurrent, sensitivity: -ratio / changeA },
  ];
  const uOhm = rootSumSquares(...rows.map((row) => row.sensitivity * row.u));
  const uChangeV = rootSumSquares(uReadings, Math.SQRT2 * uDisplay, uTiming);
  if (Math.abs(changeV) < 2 * uChangeV) {
    return unanswered(uDisplay > uReadings ? "below-one-digit" : "load-did-not-respond");
  }
  return { known: true, resistanceOhm: ratio, uOhm, changeV, changeA, rows };
}

function signed(answer: Answer<ResistanceAtStep>, sign: 1 | -1): Answer<ResistanceAtStep> {
  if (!answer.known) return answer;
  const rows = answer.rows.map((row) => ({ ...row, sensitivity: -sign * row.sensitivity }));
  return { ...answer, resistanceOhm: -sign * answer.resistanceOhm, rows };
}

function isCharging(step: CurrentStep, sign: 1 | -1, quantumA: number): boolean {
  const limitA = Math.max(2 * quantumA, 0.05 * Math.abs(step.deltaA));
  return Math.min(sign * step.beforeA, sign * step.afterA) < -limitA;
}
