import { chiSquareQuantile } from "../statistics/distribution.js";
import { power, squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";
import { robustNoise } from "../statistics/robust-scale.js";
import { coarseOffsets } from "./coarse-offset.js";
import { coincidence } from "./coincidence.js";
import { evenGrid, takeLevelOff } from "./even-grid.js";
import { fineOffset, type OffsetFound, type SharedStep, type StepNoise, type WeightedLag } from "./fine-offset.js";
import type { CurrentSeries, Recording } from "./recording.js";
import { residualNoise, stepHeight } from "./step-fit.js";
import type { StepWindow } from "./step-time-likelihood.js";
import { type SeriesStep, seriesSteps, windowOf, withoutHeldReadings } from "./step-windows.js";
import { medianIntervalS } from "./working-series.js";

/**
 * How the clock of a current stands to the clock of the voltage: a time `t` of the current is
 * `t + offsetS + ratePpm 1e-6 (t - referenceS)` on the recording's clock.
 */
export type ClockAlignment = KnownAlignment | { readonly known: false; readonly reason: AlignmentDoubt };

export interface KnownAlignment {
  readonly known: true;
  /** At `referenceS` on the current's clock, where it is known best. */
  readonly offsetS: number;
  readonly uOffsetS: number;
  /** Ends of the 95 % coverage interval of the offset. */
  readonly lowS: number;
  readonly highS: number;
  readonly referenceS: number;
  readonly ratePpm: number;
  readonly uRatePpm: number;
  /** 1 where the voltage falls as the current rises, -1 where the clamp sat the other way round. */
  readonly sign: 1 | -1;
  /** Steps of the current that were found in the voltage. */
  readonly stepCount: number;
  /** First-order lags fitted together with the offset. */
  readonly voltageLagS: number;
  readonly currentLagS: number;
  /**
   * Chance that switchings of another run in the same rhythm would agree as well; 1 where the rhythm is too even to tell.
   */
  readonly coincidence: number;
}

/** From this chance on only the person can say whether two logs are of the same run. */
export const LARGEST_COINCIDENCE = 0.002;

export type AlignmentDoubt =
  | "too-few-readings"
  | "current-without-steps"
  | "no-shared-event"
  | "too-few-shared-steps"
  | "steps-without-partner"
  | "two-offsets-fit";

export interface AlignOptions {
  /** Largest offset searched; one hour when left out. */
  readonly reachS?: number;
  /** The voltmeter's lag where it is known. */
  readonly voltageLagS?: number;
}

const LEAST_READINGS = 10;
/** Steps that must be found in both before an offset is told: those of two switchings. */
const LEAST_STEPS = 4;
/** More steps than these add little. */
const MOST_STEPS = 60;
/** The steps of the voltage must stand in one proportion to those of the current: known to a third, ... */
const LEAST_PROPORTION = 3;
/** ... and kept by each within this share of it besides the noise. */
const PROPORTION_SCATTER = 0.25;
/** A step that reaches less than this share of the usual proportion is absent. */
const ABSENT_SHARE = 0.5;
/** A step of the voltage of at least this share of the shared ones, where the current shows none, has no partner. */
const LOOSE_SHARE = 0.6;
/** The best shift must beat any other by this share, and by this much in terms of the noise. */
const RIVAL_SHARE = 0.96;
const RIVAL_MARGIN = 12;
/** Readings are levelled over this long on either side. */
const LEVEL_S = 20;
/** Clocks of instruments differ by less: 20 to 100 millionths are usual. Common practice, no source. */
const LARGEST_RATE = 200e-6;
/** A moving-coil meter may take a second; a clamp seldom lags by more than its display. */
const VOLTAGE_LAGS: readonly WeightedLag[] = [0, 0.08, 0.16, 0.25, 0.35, 0.5, 0.7, 1].map((lagS) => ({
  lagS,
  weight: 1,
}));
const CURRENT_LAGS: readonly WeightedLag[] = [
  { lagS: 0, weight: 0.5 },
  { lagS: 0.1, weight: 0.25 },
  { lagS: 0.25, weight: 0.15 },
  { lagS: 0.5, weight: 0.1 },
];
/** Readings kept on either side of a step. */
const SIDE_S = 2.5;
/** A lagging meter is given this long to follow the step before. */
const SETTLING_S = 0.5;

/**
 * Finds how the clock of a current stands to the clock of the voltage, from what both show of the same switchings.
 *
 * A cross-correlation finds the shift, the times of single steps refine it together with the lags of both instruments
 * and the rate. Unknown where the two share too few steps or where another shift fits about as well.
 */
export function alignClocks(recording: Recording, current: CurrentSeries, options: AlignOptions = {}): ClockAlignment {
  if (recording.timesS.length < LEAST_READINGS || current.timesS.length < LEAST_READINGS)
    return doubt("too-few-readings");
  const series = prepared(recording, current);
  const steps = seriesSteps(series.currentTimesS, series.currentsA, 2);
  if (steps.length === 0) return doubt("current-without-steps");
  if (steps.length < LEAST_STEPS) return doubt("too-few-shared-steps");
  const coarse = coarseShift(series, options.reachS ?? 3600);
  if (typeof coarse === "string") return doubt(coarse);
  const { found, noise, shared } = refine(series, steps, coarse.offsetS, options);
  if (found === null) return doubt("too-few-shared-steps");
  const proportion = sharedProportion(shared, found, noise, coarse.sign);
  if (proportion === null) return doubt("no-shared-event");
  const loose = stepsWithoutPartner(series, steps, found, proportion, coarse.sign);
  const times = shared.map((step) => step.currentS);
  const chance = coincidence({
    timesS: times,
    on: shared.map((step) => coarse.sign * step.height > 0),
    spreadsS: found.spreadsS,
    discord: found.discord,
    // A match of all steps is one of its kind; each step left over lets the trains slide by one more.
    wayCount: 1 + 2 * loose,
  });
  if (loose > 0 && chance > LARGEST_COINCIDENCE) return doubt("steps-without-partner");
  return {
    known: true,
    offsetS: found.offsetS,
    uOffsetS: found.uOffsetS,
    lowS: found.lowS,
    highS: found.highS,
    referenceS: found.referenceS,
    ratePpm: found.rate * 1e6,
    uRatePpm: found.uRate * 1e6,
    sign: coarse.sign,
    stepCount: shared.length,
    voltageLagS: found.voltageLagS,
    currentLagS: found.currentLagS,
    coincidence: chance,
  };
}

/** The current on the recording's clock. */
export function onRecordingClock(current: CurrentSeries, alignment: KnownAlignment): CurrentSeries {
  const { offsetS, ratePpm, referenceS } = alignment;
  return {
    timesS: current.timesS.map((time) => time + offsetS + ratePpm * 1e-6 * (time - referenceS)),
    currentsA: current.currentsA,
  };
}

function doubt(reason: AlignmentDoubt): ClockAlignment {
  return { known: false, reason };
}

interface Prepared {
  readonly voltageTimesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly currentTimesS: Float64Array;
  readonly currentsA: Float64Array;
  readonly voltageIntervalS: number;
  readonly currentIntervalS: number;
  readonly slowerS: number;
}

/** Readings that came faster than a tenth of the slower interval are joined to block means. */
function prepared(recording: Recording, current: CurrentSeries): Prepared {
  const voltage = withoutHeldReadings(recording.timesS, recording.voltagesV);
  const clamp = withoutHeldReadings(current.timesS, current.currentsA);
  const slowerS = Math.max(medianIntervalS(voltage.timesS), medianIntervalS(clamp.timesS), 1e-6);
  const [voltageTimesS, voltagesV] = blocked(voltage.timesS, voltage.values, slowerS / 10);
  const [currentTimesS, currentsA] = blocked(clamp.timesS, clamp.values, slowerS / 10);
  return {
    voltageTimesS,
    voltagesV,
    currentTimesS,
    currentsA,
    voltageIntervalS: Math.max(1e-6, medianIntervalS(voltageTimesS)),
    currentIntervalS: Math.max(1e-6, medianIntervalS(currentTimesS)),
    slowerS,
  };
}

function blocked(timesS: Float64Array, values: Float64Array, blockS: number): readonly [Float64Array, Float64Array] {
  if (medianIntervalS(timesS) >= blockS / 2) return [timesS, values];
  const times: number[] = [];
  const means: number[] = [];
  for (let i = 0; i < timesS.length; ) {
    const endS = timesS[i]! + blockS;
    let [time, value, count] = [0, 0, 0];
    for (; i < timesS.length && timesS[i]! < endS; i += 1) {
      time += timesS[i]!;
      value += values[i]!;
      count += 1;
    }
    times.push(time / count);
    means.push(value / count);
  }
  return [Float64Array.from(times), Float64Array.from(means)];
}

function coarseShift(
  series: Prepared,
  reachS: number,
): { readonly offsetS: number; readonly sign: 1 | -1 } | "no-shared-event" | "two-offsets-fit" {
  const spanS = (times: Float64Array): number => times.at(-1)! - times[0]!;
  const stepS = Math.max(series.slowerS, (spanS(series.voltageTimesS) + spanS(series.currentTimesS)) / power(2, 18));
  const voltage = evenGrid(series.voltageTimesS, series.voltagesV, stepS, series.voltageIntervalS);
  const current = evenGrid(series.currentTimesS, series.currentsA, stepS, series.currentIntervalS);
  const noiseV = Math.max(robustNoise(voltage.values), 1e-9);
  takeLevelOff(voltage, LEVEL_S);
  takeLevelOff(current, LEVEL_S);
  const found = coarseOffsets(voltage, current, reachS);
  if (found === null) return "no-shared-event";
  const [best, other] = [Math.abs(found.best.scoreV) / noiseV, Math.abs(found.other?.scoreV ?? 0) / noiseV];
  if (best < 6) return "no-shared-event";
  if (other > RIVAL_SHARE * best || best * best - other * other < 2 * RIVAL_MARGIN) return "two-offsets-fit";
  return { offsetS: found.best.offsetS, sign: found.best.scoreV < 0 ? 1 : -1 };
}

/**
 * The steps of the current with the readings of both series around them, when the offset is known to `uncertainS`; those
 * with too few readings are left out.
 */
function sharedSteps(
  series: Prepared,
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

interface Refined {
  readonly found: OffsetFound | null;
  readonly noise: StepNoise;
  readonly shared: readonly (SharedStep & SeriesStep)[];
}

/** Narrows the search round by round until the grid is fine against what it finds. */
function refine(series: Prepared, steps: readonly SeriesStep[], coarseS: number, options: AlignOptions): Refined {
  const spanS = steps.at(-1)!.timeS - steps[0]!.timeS;
  const driftS = (LARGEST_RATE * spanS) / 2;
  const { voltageLagS } = options;
  let voltageLags = voltageLagS === undefined ? VOLTAGE_LAGS : [{ lagS: voltageLagS, weight: 1 }];
  let halfWidthS = 1 + 2 * series.slowerS + driftS;
  let centreS = coarseS;
  let discord = 0;
  for (let round = 0; ; round += 1) {
    const shared = sharedSteps(series, steps, centreS, round === 0 ? 1 : halfWidthS);
    const noise = residualNoise(shared, series, centreS, halfWidthS);
    if (shared.length < LEAST_STEPS) return { found: null, noise, shared };
    const found = fineOffset(shared, noise, {
      centreS,
      halfWidthS,
      stepS: halfWidthS / 50,
      voltageLags,
      currentLags: CURRENT_LAGS,
      largestRate: LARGEST_RATE,
    });
    // The first round is wide enough to show each step's own offset.
    discord = Math.max(discord, found.discord);
    const nextS = 6 * found.uOffsetS + driftS;
    if (round > 0 && (round === 3 || nextS > 0.6 * halfWidthS)) return { found: { ...found, discord }, noise, shared };
    if (voltageLagS === undefined) voltageLags = lagsAround(found.voltageLagS, found.uVoltageLagS);
    centreS = found.offsetS;
    halfWidthS = Math.min(halfWidthS, nextS);
  }
}

/** Lags to try next, three standard deviations to either side; the coarser lags before cannot tell less than 0.03 s. */
function lagsAround(lagS: number, uLagS: number): WeightedLag[] {
  const reachS = 3 * Math.max(uLagS, 0.03);
  const [lowS, highS] = [Math.max(0, lagS - reachS), lagS + reachS];
  return Array.from({ length: 9 }, (_, i) => ({ lagS: lowS + ((highS - lowS) * i) / 8, weight: 1 }));
}

/**
 * Volts for each ampere, where the steps share one offset and those of the voltage stand in one well-known proportion to
 * the current's; null where they do not.
 */
function sharedProportion(
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
function stepsWithoutPartner(
  series: Prepared,
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
