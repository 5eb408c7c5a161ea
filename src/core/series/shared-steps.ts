import type { SharedStep } from "./fine-offset.js";
import type { SeriesPair } from "./series-pair.js";
import type { StepWindow } from "./step-time-likelihood.js";
import { type SeriesStep, windowOf } from "./step-windows.js";

/** More steps than these add little. */
const MOST_STEPS = 60;
/** Readings kept on either side of a step. */
const SIDE_S = 2.5;
/** A lagging meter is given this long to follow the step before. */
const SETTLING_S = 0.5;

/**
 * The steps of the current with the readings of both series around them, when the offset is known to `uncertainS`; those
 * with too few readings are left out.
 */
export function sharedSteps(
  series: SeriesPair,
  steps: readonly SeriesStep[],
  offsetS: number,
  uncertainS: number,
): (SharedStep & SeriesStep)[] {
  const sideS = Math.max(SIDE_S, 5 * series.slowerS);
  // A window stops short of its neighbour's step, by what the lag and the doubt about the offset ask for.
  const reach = (gapS: number, marginS: number): number => Math.min(sideS, Math.max(gapS / 2, gapS - marginS));
  const marginA = 2 * series.currentIntervalS;
  const marginV = uncertainS + series.slowerS + SETTLING_S;
  const shared = steps.flatMap((step, k) => {
    const beforeS = step.timeS - (steps[k - 1]?.timeS ?? Number.NEGATIVE_INFINITY);
    const afterS = (steps[k + 1]?.timeS ?? Number.POSITIVE_INFINITY) - step.timeS;
    const current = around(series.currentTimesS, series.currentsA, step.timeS, [
      reach(beforeS, marginA),
      reach(afterS, marginA),
    ]);
    const centreS = step.timeS + offsetS;
    // What comes after a step is free of the next one's lag.
    const voltageReach = [reach(beforeS, marginV), reach(afterS, marginV - SETTLING_S)] as const;
    const voltage = around(series.voltageTimesS, series.voltagesV, centreS, voltageReach);
    return current === null || voltage === null ? [] : [{ ...step, currentS: step.timeS, voltage, current }];
  });
  const stride = Math.ceil(shared.length / MOST_STEPS);
  return shared.filter((_, k) => k % stride === 0);
}

/** The readings around a step; null where fewer than two stand on either side. */
function around(
  timesS: Float64Array,
  values: Float64Array,
  centreS: number,
  [beforeS, afterS]: readonly [number, number],
): StepWindow | null {
  const window = windowOf(timesS, values, centreS - beforeS, centreS + afterS);
  const earlier = window.timesS.filter((time) => time < centreS).length;
  return earlier < 2 || window.timesS.length - earlier < 2 ? null : window;
}
