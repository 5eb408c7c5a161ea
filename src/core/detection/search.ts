import type { LimitsOf } from "../analysis.js";
import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { WorkingSeries } from "../series/working-series.js";
import { normalQuantile } from "../statistics/distribution.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { scanTrains } from "./best-train.js";
import { type Clumps, scanProbability } from "./clump-probability.js";
import { blockedGaps, type EdgeCovariance, type EdgeField, edgeField } from "./edge-field.js";
import { type KnownDips, TYPICAL_LAG_S, takeOut } from "./found-train.js";
import { ReadingsDesign } from "./readings-design.js";
import {
  degreesOfFreedom,
  isShort,
  type NoiseGuess,
  reaches,
  type SearchNoise,
  searchNoise,
  stretchDegreesOfFreedom,
} from "./search-noise.js";
import { dipTemplate, type OnTime, plainShape } from "./switching-template.js";
import { cadenceBank, openBank, type TrainBank } from "./train-bank.js";
import { rankOf, type ScanResult, scoreAtRank } from "./train-scan.js";
import { typicalTrain, worstSize } from "./typical-train.js";

/** A train of dips that the search found, or the best one it met. */
export interface FoundTrain {
  readonly onTimes: readonly OnTime[];
  readonly score: number;
  readonly pValue: number;
  /** Mean depth as the search saw it, volts. */
  readonly depthV: number;
  /** Share of its depth at which a train of its kind would just have been found. */
  readonly criticalShare: number;
  /** Fall per volt of depth, as fitted, and what takes it out of the readings with what a wrong shape would leave. */
  readonly template: Float64Array;
  readonly columns: readonly Float64Array[];
}

/** What a search of the whole recording says. */
export interface SearchResult {
  /** Trains whose p-value is at or below the false-alarm rate, strongest first. */
  readonly trains: readonly FoundTrain[];
  /** The next best one, which is not. */
  readonly best: FoundTrain | null;
  /** Noise beside all of them. */
  readonly noise: NoiseParameters;
  /** Limits for three switchings of five seconds, or for the stated cadence: `limitsOf`. */
  readonly criticalDepthV: number;
  readonly minimumDetectableDepthV: number;
  /** True depth that would hardly ever be missed: found with one less the false-alarm rate. */
  readonly surelyDetectableDepthV: number;
  /** Null where no switching at all could be found. */
  readonly limitsOf: LimitsOf | null;
}

export interface SearchOptions {
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly lagS: number | undefined;
  readonly displayStepV: number | null;
  readonly cadence: { readonly onS: number; readonly offS: number; readonly switchingCount?: number } | null;
  readonly random: RandomGenerator;
}

const MOST_TRAINS = 8;

/**
 * Searches a recording for trains of equal dips whose times nobody noted.
 *
 * The equal dips of a train add up before anything is judged. Each train that is found is fitted and taken out, the
 * noise is estimated anew beside it, and the search goes on until nothing stands out at the false-alarm rate. `before`
 * are dips that are known already.
 */
export function searchTrains(
  series: WorkingSeries,
  options: SearchOptions,
  before: { readonly templates: readonly Float64Array[]; readonly onTimes: readonly OnTime[] } = NONE_BEFORE,
): SearchResult {
  const design = new ReadingsDesign(series);
  const lagS = options.lagS ?? TYPICAL_LAG_S;
  const found: RankedTrain[] = [];
  const known: KnownDips = { templates: [...before.templates], onTimes: [...before.onTimes] };
  let deepestV = 0;
  let noise = searchNoise(design, known.templates);
  let same: SameNoise = NOTHING_SAME;
  for (;;) {
    const round = scanBeside(design, known, { noise, ...same }, lagS, options);
    if (round === null) return nothingPossible(found, noise.noise);
    const { train, probability } = round;
    noise = round.noise;
    const depthV = round.result.score * round.result.uDepthV;
    const significant =
      train.pValue <= options.falseAlarmRate && found.length < MOST_TRAINS && depthV > LEAST_SHARE * deepestV;
    if (!significant) {
      // Of the most usual kind of train, and of a stated cadence: their rarity is none.
      const critical = probability.criticalRank(options.falseAlarmRate);
      // Beside gaps few places tell how trains scatter, and dips that stand there swell it: what that costs is counted.
      const typical = typicalTrain(round.field, options.cadence);
      const uDepthV =
        typical.uDepthV *
        coarseness(noise.noise, options.displayStepV) *
        worstSize(series) *
        (blockedGaps(series.timesS).length > 0 ? Math.max(1, round.result.scatter) : 1);
      const at = (power: number) => (critical + normalQuantile(power)) * uDepthV;
      return {
        trains: found.map((one) => foundFrom(one, critical)),
        best: found.length === 0 ? foundFrom(train, critical) : null,
        noise: noise.noise,
        criticalDepthV: at(0.5),
        minimumDetectableDepthV: at(options.power),
        surelyDetectableDepthV: at(1 - options.falseAlarmRate),
        limitsOf: typical.limitsOf,
      };
    }
    deepestV = Math.max(deepestV, depthV);
    // A short recording's covariance changes with what is taken out.
    if (!isShort(design)) same = { covariance: round.field.covariance, clumps: probability.clumps() };
    const from = known.templates.length;
    const onTimes = takeOut(design, known, train, depthV, noise.noise, options.lagS);
    const columns = known.templates.slice(from);
    found.push({ ...train, onTimes, template: columns[0] ?? train.template, columns });
    if (reaches(noise.stretches, onTimes)) {
      noise = searchNoise(design, known.templates);
      same = NOTHING_SAME;
    }
  }
}

const NONE_BEFORE = { templates: [], onTimes: [] };

/** A fainter train than this share of the deepest one may be what an imperfect fit of that one left behind. */
const LEAST_SHARE = 0.12;

/** A train by its kind, before the rank is known from which on trains are found. */
type RankedTrain = Omit<FoundTrain, "criticalShare"> & { readonly rarity: number };

function foundFrom({ rarity, ...train }: RankedTrain, criticalRank: number): FoundTrain {
  return { ...train, criticalShare: Math.min(1, scoreAtRank(criticalRank, rarity) / train.score) };
}

function nothingPossible(trains: readonly RankedTrain[], noise: NoiseParameters): SearchResult {
  const never = Number.POSITIVE_INFINITY;
  return {
    // Nothing tells from which rank on they would have been found: as if just so.
    trains: trains.map((one) => foundFrom(one, never)),
    best: null,
    noise,
    criticalDepthV: never,
    minimumDetectableDepthV: never,
    surelyDetectableDepthV: never,
    limitsOf: null,
  };
}

/**
 * One scan: the noise is fitted beside the candidate, and the scan repeated with it until the candidate stays.
 *
 * In a short recording dips and slow noise look alike as long as neither is known: a second start takes the noise to
 * wander little, and the better candidate of the two counts. In a long one the stretches that suit the others badly are
 * left out, since dips may be in them. It may as well have been wander: a train in them, or one of which the like scatter more
 * than that noise explains, counts by the noise of all stretches, where that makes less of it.
 */
function scanBeside(design: ReadingsDesign, known: KnownDips, start: ScanStart, lagS: number, options: SearchOptions) {
  const short = isShort(design);
  const starts = short ? [start.noise, searchNoise(design, known.templates, "stiff")] : [start.noise];
  const settled = starts.flatMap(
    (noise) => settledScan(design, known, { ...start, noise }, lagS, options, "likeliest") ?? [],
  );
  if (settled.length === 0) return null;
  let likeliest = settled.reduce((a, b) => (rank(b.result) > rank(a.result) ? b : a));
  const { result: first, noise: calm, field: calmField } = likeliest;
  const isLeftOut = reaches(calm.leftOut, onTimesOf(first, calmField.startS, calmField.stepS));
  if (isLeftOut || (calm.leftOut.length > 0 && first.scatter > TOO_CALM)) {
    const restless = { noise: searchNoise(design, known.templates, "every-stretch"), ...NOTHING_SAME };
    const other = settledScan(design, known, restless, lagS, options, "every-stretch");
    if (other !== null && rank(other.result) < rank(first)) likeliest = other;
  }
  const { noise, field, result: best } = likeliest;
  const bank = bankFor(options, field.stepS);
  const coarse = coarseness(noise.noise, options.displayStepV);
  const result = { ...best, score: best.score / coarse, uDepthV: best.uDepthV * coarse };
  const template = templateOf(design, result, field.startS, field.stepS, lagS);
  const dof = short ? degreesOfFreedom(design, [...known.templates, template]) : stretchDegreesOfFreedom(noise);
  const probability = scanProbability(field, bank, result.trainCounts, {
    dof,
    random: options.random,
    clumps: field.covariance === start.covariance ? start.clumps : null,
  });
  return {
    noise,
    field,
    result,
    probability,
    train: {
      onTimes: onTimesOf(result, field.startS, field.stepS),
      score: result.score,
      pValue: probability.pValue(rank(result)),
      rarity: result.rarity,
      depthV: result.score * result.uDepthV,
      template,
      columns: [template],
    },
  };
}

/** Scatter of a train's like from which on the noise is surely too calm: chance makes 1.1, seldom 1.2. */
const TOO_CALM = 1.2;

/** What an earlier round in the same noise found out; null for what is not known yet. */
interface SameNoise {
  readonly covariance: EdgeCovariance | null;
  readonly clumps: Clumps | null;
}

const NOTHING_SAME: SameNoise = { covariance: null, clumps: null };

interface ScanStart extends SameNoise {
  readonly noise: SearchNoise;
}

function settledScan(
  design: ReadingsDesign,
  known: KnownDips,
  start: ScanStart,
  lagS: number,
  options: SearchOptions,
  guess: NoiseGuess,
): { readonly noise: SearchNoise; readonly field: EdgeField; readonly result: ScanResult } | null {
  const most = isShort(design) ? 2 : 1;
  let { noise } = start;
  let result: ScanResult | null = null;
  let field = edgeField(design, noise.noise, lagS, known, start.covariance);
  for (let refits = 0; ; refits++) {
    const next = scanTrains(field, bankFor(options, field.stepS));
    if (next === null) return null;
    const same = result !== null && sameTrain(result, next);
    result = next;
    if (same || refits === most || !reaches(noise.stretches, onTimesOf(result, field.startS, field.stepS))) break;
    const template = templateOf(design, result, field.startS, field.stepS, lagS);
    noise = searchNoise(design, [...known.templates, template], guess);
    field = edgeField(design, noise.noise, lagS, known);
  }
  return result === null ? null : { noise, field, result };
}

/**
 * How much larger the noise of a coarse display is at its worst than on the whole: a level between two digits flickers by
 * half a step, one on a digit not at all.
 */
function coarseness(noise: NoiseParameters, displayStepV: number | null): number {
  if (displayStepV === null) return 1;
  const sigmaV = Math.max(rootSumSquares(noise.whiteV, noise.colouredV), displayStepV / Math.sqrt(12));
  return Math.max(1, displayStepV / 2 / sigmaV);
}

function bankFor(options: SearchOptions, stepS: number): TrainBank {
  return options.cadence === null ? openBank(stepS) : cadenceBank(options.cadence, stepS);
}

const rank = ({ score, rarity }: ScanResult) => rankOf(score, rarity);

function sameTrain(a: ScanResult, b: ScanResult): boolean {
  const { train: s } = a;
  const { train: t } = b;
  return (
    s.first === t.first &&
    s.switchingCount === t.switchingCount &&
    s.rhythm.onSteps === t.rhythm.onSteps &&
    s.rhythm.offSteps === t.rhythm.offSteps
  );
}

function onTimesOf(result: ScanResult, startS: number, stepS: number): OnTime[] {
  const { rhythm, switchingCount, first } = result.train;
  return Array.from({ length: switchingCount }, (_, k) => {
    const onset = first + k * (rhythm.onSteps + rhythm.offSteps);
    return { onsetS: startS + onset * stepS, releaseS: startS + (onset + rhythm.onSteps) * stepS };
  });
}

function templateOf(
  design: ReadingsDesign,
  result: ScanResult,
  startS: number,
  stepS: number,
  lagS: number,
): Float64Array {
  const { timesS, blockS } = design.series;
  return dipTemplate(timesS, blockS, onTimesOf(result, startS, stepS), plainShape(lagS));
}
