import { firstAtOrAfter } from "../detection/switching-template.js";
import type { CurrentSeries } from "../series/recording.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import { type Baseline, baselineBefore } from "./baseline.js";
import type { CurrentStep } from "./current-step.js";

/** Readings, noise and wishes that every step of a recording is read with. */
export interface StepSetting {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly current: CurrentSeries;
  readonly quantumV: number;
  readonly sigmaV: number;
  readonly correlationS: number;
  readonly quantumA: number;
  readonly lagS: number;
  readonly gainFraction: number;
  readonly atS: readonly number[];
}

/** The first reading after a step says something about that step only this soon. */
export const FIRST_WITHIN_S = 2;
/** A reading counts as settled when the next one goes at most this much further. */
const SETTLED_SHARE = 0.7;

/** The step may lie up to two standard uncertainties of the clocks' offset before or after its readings. */
export function loosened(step: CurrentStep, clockUncertaintyS: number): CurrentStep {
  if (clockUncertaintyS === 0) return step;
  const reachS = 2 * clockUncertaintyS;
  return {
    ...step,
    beforeS: Math.max(step.quietFromS, step.beforeS - reachS),
    afterS: Math.min(step.quietToS, step.afterS + reachS),
    uOnsetS: rootSumSquares(step.uOnsetS, clockUncertaintyS),
  };
}

/** Where the voltage was read more often than the current and jumps once, that jump tells the onset. */
export function onsetFromVoltage(setting: StepSetting, step: CurrentStep): CurrentStep {
  const { timesS, voltagesV, sigmaV } = setting;
  const from = Math.max(1, firstAtOrAfter(timesS, step.beforeS));
  const to = Math.min(timesS.length - 1, firstAtOrAfter(timesS, step.afterS));
  if (to - from < 2 || step.uOnsetS === 0) return step;
  let best = from;
  for (let k = from; k <= to; k++) {
    if (Math.abs(jumpAt(voltagesV, k)) > Math.abs(jumpAt(voltagesV, best))) best = k;
  }
  const whole = voltagesV[to] - voltagesV[from - 1];
  if (Math.abs(jumpAt(voltagesV, best)) < Math.max(8 * sigmaV, 0.5 * Math.abs(whole))) return step;
  const gap = timesS[best] - timesS[best - 1];
  return {
    ...step,
    beforeS: Math.max(step.beforeS, timesS[best - 1]),
    afterS: Math.min(step.afterS, timesS[best]),
    onsetS: timesS[best] - gap / 2,
    uOnsetS: gap / Math.sqrt(12),
  };
}

function jumpAt(values: Float64Array, k: number): number {
  return values[k] - values[k - 1];
}

/** The line before the step rests on the later half of the level before it, so that an earlier relaxation has faded. */
export function baseOf(setting: StepSetting, step: CurrentStep, lastS: number): Baseline | null {
  return baselineBefore(
    setting.timesS,
    setting.voltagesV,
    { fromS: (step.quietFromS + step.beforeS) / 2, toS: lastS, referenceS: step.onsetS },
    { sigma: setting.sigmaV, correlationS: setting.correlationS },
  );
}

/** First reading after the step from which the next one does not go much further; null where there is none. */
export function firstSettled(setting: StepSetting, step: CurrentStep, base: Baseline): number | null {
  const { timesS, voltagesV, sigmaV } = setting;
  const tolerance = 1e-9 * Math.max(1, Math.abs(step.afterS));
  let k = firstAtOrAfter(timesS, Math.max(step.afterS, step.onsetS + 4 * setting.lagS) - tolerance);
  while (k + 1 < timesS.length && timesS[k + 1] - step.onsetS <= FIRST_WITHIN_S) {
    const here = voltagesV[k] - base.level;
    const there = voltagesV[k + 1] - base.level;
    if (Math.abs(there) - Math.abs(here) < 5 * sigmaV || here / there >= SETTLED_SHARE) break;
    k++;
  }
  return k < timesS.length && timesS[k] <= step.quietToS + tolerance ? k : null;
}

/**
 * Whether the voltage stays where it was for two readings or more after the step and jumps then, within two seconds: a
 * reading that was held, or a clock that lags.
 */
export function movedAfter(setting: StepSetting, step: CurrentStep, base: Baseline): boolean {
  const { timesS, voltagesV, sigmaV } = setting;
  const first = firstAtOrAfter(timesS, step.afterS - 1e-9 * Math.max(1, Math.abs(step.afterS)));
  const threshold = 8 * rootSumSquares(sigmaV, base.uLevel);
  let held = 0;
  for (let k = first; k < timesS.length && timesS[k] <= Math.min(step.quietToS, step.onsetS + FIRST_WITHIN_S); k++) {
    const moved = Math.abs(voltagesV[k] - base.level - base.slope * (timesS[k] - step.onsetS));
    if (moved > threshold) return held >= 2 && Math.abs(jumpAt(voltagesV, k)) > 0.7 * moved;
    held += 1;
  }
  return false;
}

/**
 * Whether the last reading before the step already departs from those before it by a good part of the whole change:
 * then voltage and current were not read at the same moments.
 */
export function movedBefore(setting: StepSetting, step: CurrentStep, lastBefore: number, firstAfter: number): boolean {
  const { timesS, voltagesV, sigmaV } = setting;
  if (lastBefore < 1 || timesS[lastBefore - 1] < step.quietFromS) return false;
  const earlier = baseOf(setting, step, timesS[lastBefore - 1]);
  if (earlier === null) return false;
  const sinceS = timesS[lastBefore] - step.onsetS;
  const moved = voltagesV[lastBefore] - (earlier.level + earlier.slope * sinceS);
  const whole = voltagesV[firstAfter] - (earlier.level + earlier.slope * sinceS);
  const uMoved = rootSumSquares(sigmaV, earlier.uLevel, earlier.uSlope * sinceS);
  return Math.abs(moved) > 6 * uMoved && moved / whole > 0.3;
}
