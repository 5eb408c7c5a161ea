import { chiSquareQuantile } from "../statistics/distribution.js";
import { power, squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";
import type { SharedStep, StepNoise } from "./fine-offset.js";
import type { OffsetFound } from "./offset-posterior.js";
import type { SeriesPair } from "./series-pair.js";
import { stepHeight } from "./step-fit.js";
import { type SeriesStep, seriesSteps, windowOf } from "./step-windows.js";

/** The steps of the voltage must stand in one proportion to those of the current: known to a third, ... */
const LEAST_PROPORTION = 3;
/** ... and kept by each within this share of it besides the noise. */
const PROPORTION_SCATTER = 0.25;
/** A step that reaches less than this share of the usual proportion is absent. */
const ABSENT_SHARE = 0.5;
/** A step of the voltage of at least this share of the shared ones, where the current shows none, has no partner. */
const LOOSE_SHARE = 0.6;
/** Fewer readings than these show no step. */
const LEAST_READINGS = 10;

/**
 * Volts for each ampere, where the steps share one offset and those of the voltage stand in one well-known proportion to
 * the current's; null where they do not.
 */
export function sharedProportion(
  steps: readonly (SharedStep & SeriesStep)[],
  found: OffsetFound,
  noise: StepNoise,
  sign: 1 | -1,
): number | null {
  const ratios = steps.map((step) => {
    const onsetS = step.currentS + found.offsetS + found.rate * (step.currentS - found.referenceS);
    const { height, uHeight } = stepHeight(step.voltage, onsetS, found.voltageLagS, noise);
    return { ratio: (-sign * height) / step.height, u: uHeight / Math.abs(step.height) };
  });
  const weight = ratios.reduce((sum, { u }) => sum + power(u, -2), 0);
  const mean = ratios.reduce((sum, { ratio, u }) => sum + ratio * power(u, -2), 0) / weight;
  if (!(mean * Math.sqrt(weight) > LEAST_PROPORTION)) return null;
  const excess = ratios.reduce(
    (sum, { ratio, u }) => sum + squared(ratio - mean) / (u * u + squared(PROPORTION_SCATTER * mean)),
    0,
  );
  // One step of the current that the voltage plainly does not show is enough.
  const usual = median(Float64Array.from(ratios, ({ ratio }) => ratio));
  if (ratios.some(({ ratio, u }) => ratio + 2 * u < ABSENT_SHARE * usual)) return null;
  const free = ratios.length - 1;
  const agree = excess < chiSquareQuantile(0.999, free) && found.discord < chiSquareQuantile(0.99, free);
  return agree ? mean : null;
}

/** How many steps the voltage still shows, where both logs have readings, once those of the current are taken out of it. */
export function stepsWithoutPartner(
  series: SeriesPair,
  steps: readonly SeriesStep[],
  found: OffsetFound,
  voltsPerAmpere: number,
  sign: 1 | -1,
): number {
  const onVoltageClock = (timeS: number): number => timeS + found.offsetS + found.rate * (timeS - found.referenceS);
  const fromS = onVoltageClock(series.currentTimesS[0]!);
  const toS = onVoltageClock(series.currentTimesS.at(-1)!);
  const window = windowOf(series.voltageTimesS, series.voltagesV, fromS, toS);
  const onsetsS = steps.map((step) => onVoltageClock(step.timeS));
  const settlingS = 3 * found.voltageLagS + 2 * series.slowerS;
  // Readings right behind a step tell of the lag.
  const kept = [...window.timesS.keys()].filter((i) =>
    onsetsS.every((onsetS) => Math.abs(window.timesS[i]! - onsetS - settlingS / 2) > settlingS / 2),
  );
  if (kept.length < LEAST_READINGS) return 0;
  const timesS = Float64Array.from(kept, (i) => window.timesS[i]!);
  const rest = Float64Array.from(kept, (i) => {
    const timeS = window.timesS[i]!;
    const amperes = steps.reduce((sum, step, k) => sum + (timeS > onsetsS[k]! ? step.height : 0), 0);
    return window.values[i]! + sign * voltsPerAmpere * amperes;
  });
  const least = LOOSE_SHARE * voltsPerAmpere * median(Float64Array.from(steps, (step) => Math.abs(step.height)));
  const lasting = Math.max(2, Math.ceil(1 / series.voltageIntervalS));
  return seriesSteps(timesS, rest, lasting).filter((step) => Math.abs(step.height) > least).length;
}
