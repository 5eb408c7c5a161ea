import { power } from "../statistics/portable-power.js";
import { robustNoise } from "../statistics/robust-scale.js";
import { coarseOffsets } from "./coarse-offset.js";
import { coincidence } from "./coincidence.js";
import { evenGrid, takeLevelOff } from "./even-grid.js";
import { fineOffset, type SharedStep, type StepNoise } from "./fine-offset.js";
import type { OffsetFound, WeightedLag } from "./offset-posterior.js";
import type { CurrentSeries, Recording } from "./recording.js";
import { type SeriesPair, seriesPair } from "./series-pair.js";
import { sharedSteps } from "./shared-steps.js";
import { sharedProportion, stepsWithoutPartner } from "./step-agreement.js";
import { residualNoise } from "./step-fit.js";
import { type SeriesStep, seriesSteps } from "./step-windows.js";

/**
 * How the clock of a current stands to the clock of the voltage: a time `t` of the current is
 * `t + offsetS + ratePpm 1e-6 (t - referenceS)` on the recording's clock.
 */
export type ClockAlignment = KnownAlignment | { readonly known: false; readonly reason: AlignmentDoubt };

export interface KnownAlignment {
  readonly known: true;
  /** At `referenceS` on the current's clock, where it is known best. */
  readonly offsetS: number;
  /** From the readings alone, as if every row showed the value of its moment. */
  readonly uOffsetS: number;
  /** Ends of the 95 % coverage interval of the offset, whether rows show values of their moment or up to a row old. */
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

/**
 * Finds how the clock of a current stands to the clock of the voltage, from what both show of the same switchings.
 *
 * A cross-correlation finds the shift, the times of single steps refine it together with the lags of both instruments
 * and the rate. Unknown where the two share too few steps or where another shift fits about as well.
 * Seconds; the rate in parts per million. Never throws for want of evidence: the reason is a value.
 */
export function alignClocks(recording: Recording, current: CurrentSeries, options: AlignOptions = {}): ClockAlignment {
  if (recording.timesS.length < LEAST_READINGS || current.timesS.length < LEAST_READINGS)
    return doubt("too-few-readings");
  const series = seriesPair(recording, current);
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
    // A value may be up to a row old when it is logged, which nothing in the two logs tells from the offset.
    lowS: found.lowS - series.voltageRowS,
    highS: found.highS + series.currentRowS,
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

/** The current on the recording's clock: its times in seconds shifted and stretched as found. */
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

function coarseShift(
  series: SeriesPair,
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

interface Refined {
  readonly found: OffsetFound | null;
  readonly noise: StepNoise;
  readonly shared: readonly (SharedStep & SeriesStep)[];
}

/** Narrows the search round by round until the grid is fine against what it finds. */
function refine(series: SeriesPair, steps: readonly SeriesStep[], coarseS: number, options: AlignOptions): Refined {
  const spanS = steps.at(-1)!.timeS - steps[0]!.timeS;
  const driftS = (LARGEST_RATE * spanS) / 2;
  const { voltageLagS } = options;
  let voltageLags = voltageLagS === undefined ? VOLTAGE_LAGS : lagsTold(voltageLagS);
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

/** A lag that was told is known to about a tenth. */
function lagsTold(lagS: number): WeightedLag[] {
  if (lagS === 0) return [{ lagS, weight: 1 }];
  return [0.85, 1, 1.15].map((factor) => ({ lagS: factor * lagS, weight: factor === 1 ? 2 : 1 }));
}

/** Lags to try next, three standard deviations to either side; the coarser lags before cannot tell less than 0.03 s. */
function lagsAround(lagS: number, uLagS: number): WeightedLag[] {
  const reachS = 3 * Math.max(uLagS, 0.03);
  const [lowS, highS] = [Math.max(0, lagS - reachS), lagS + reachS];
  return Array.from({ length: 9 }, (_, i) => ({ lagS: lowS + ((highS - lowS) * i) / 8, weight: 1 }));
}
