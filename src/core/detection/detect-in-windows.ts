import type { NoiseSummary } from "../analysis.js";
import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { Assumption, Warning } from "../notes.js";
import type { MeterProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { readingScatterV } from "../series/working-series.js";
import { normalQuantile, normalSurvival } from "../statistics/distribution.js";
import { mixtureMoments } from "../statistics/normal-mixture.js";
import { exponential } from "../statistics/portable-exponential.js";
import { power, rootSumSquares, squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { analysisWindows, windowSeries } from "./analysis-window.js";
import type { ScoreDistribution } from "./averaged-score.js";
import { mostOff } from "./edges-off.js";
import type { MarkedLoad } from "./load-work.js";
import { detectMarked, type MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import { marksOffS } from "./marks-off.js";
import { rhythmGoesOn } from "./rhythm-beyond.js";
import { mayBeIntervals } from "./rounded-response.js";
import { fewDiffer, oneEdgeOnly, oneHalfOnly, type SingleDip, type SingleDips, singleDips } from "./single-dips.js";
import { stepPValue } from "./step-story.js";
import { type StrayRelease, strayReleases } from "./stray-release.js";
import type { Switching } from "./switching.js";
import { wholeRecordingNoise } from "./wander-prior.js";

/** One stretch of the recording, judged. */
export interface DetectedWindow {
  readonly detection: MarkedDetection;
  readonly single: SingleDips;
  readonly strays: readonly StrayRelease[];
  /** Seconds by which all dips of a load clearly lie after its marks; loads whose dips do not are left out. */
  readonly offs: ReadonlyMap<string, number>;
}

/** A load's response over all the stretches in which it was switched. */
export interface DetectedLoad {
  readonly response: MarkedResponse;
  readonly dips: readonly SingleDip[];
  /** Whether the voltage moves at one end of the on-times and not at the other. */
  readonly edgesDisagree: boolean;
  /** Chance that dips that were searched for are a level that shifted once, and noise; 0 where more vouches for them. */
  readonly stepPValue: number;
  /** Whether the voltage dips on in its rhythm where nobody switched it. */
  readonly rhythmGoesOn: boolean;
  /** Whether it fell off, or stayed on, for good or in half of its switchings. */
  readonly strayed: boolean;
  /** Seconds by which its dips clearly lie after its marks; null where marks and dips go together, or there are none. */
  readonly marksOffS: number | null;
  /** Whether half of its switchings or more clearly lie off their marks, each its own way. */
  readonly besideOwnMarks: boolean;
}

/** All stretches, with the noise of the longest one. */
export interface Detected {
  readonly windows: readonly DetectedWindow[];
  readonly loads: readonly DetectedLoad[];
  readonly noise: Omit<NoiseSummary, "quantumV">;
  readonly assumptions: readonly Assumption[];
  readonly warnings: readonly Warning[];
}

/** Fewest readings in which a dip can be told from the noise at all. */
const FEWEST_READINGS = 12;

/** Judges every load that was switched, in as few stretches of the recording as hold them. */
export function detectInWindows(
  recording: Recording,
  switching: Switching,
  context: {
    readonly meter: MeterProfile | undefined;
    readonly displayStepV: number | null;
    /** Noise that the readings surely have before a display rounds them, volts. */
    readonly ownNoiseV: number;
    readonly random: RandomGenerator;
  },
): Detected {
  const windows: DetectedWindow[] = [];
  const assumptions: Assumption[] = [];
  let outlierCount = 0;
  let blockS = 0;
  let blockedCount = 0;
  const { displayStepV, ownNoiseV } = context;
  const display = displayStepV === null ? null : { stepV: displayStepV, ownNoiseV };
  const singly = display !== null && mayBeIntervals(display, 0);
  const judged = analysisWindows(recording.timesS, switching.loads, singly);
  const wholeNoise = wholeRecordingNoise(recording, judged, displayStepV, switching.searchedNoise);
  for (const window of judged) {
    const series = windowSeries(recording, window, context.displayStepV);
    const loads = window.parts.map(({ loadIndex, onTimes }) => {
      const { id, profile, timeUncertaintyS } = switching.loads[loadIndex];
      return { id, onTimes, kind: profile?.kind ?? null, timeUncertaintyS };
    });
    if (series.timesS.length < FEWEST_READINGS) continue;
    const judge = (told: readonly MarkedLoad[]) => detectMarked(series, told, { ...context, display, wholeNoise });
    const marked = judge(loads);
    const isMarked = switching.mode === "marked";
    const { detection, strays } = isMarked ? strayReleases(marked, loads, judge) : { detection: marked, strays: [] };
    const offs = new Map<string, number>();
    for (const { id, timeUncertaintyS } of isMarked ? loads : []) {
      const offS = marksOffS(
        marked,
        marked.responses.find((one) => one.id === id)!,
        timeUncertaintyS,
        context.meter?.lagS,
      );
      if (offS !== null) offs.set(id, offS);
    }
    // What ended at another moment than marked is no news of dips that began at another one.
    const told = strays.filter(({ load }) => !offs.has(load));
    windows.push({ detection, single: singleDips(detection), strays: told, offs });
    outlierCount += series.outlierCount;
    blockS = Math.max(blockS, series.blockS);
    if (series.blockS > 0) blockedCount += window.range.end - window.range.start;
  }
  if (blockS > 0) assumptions.push({ code: "block-means", blockS, readingCount: blockedCount });
  if (outlierCount > 0) assumptions.push({ code: "outliers-left-out", outlierCount });
  assumptions.push(...intervalNote(windows, displayStepV), lagAssumption(windows, context.meter));
  return {
    windows,
    loads: mergedLoads(windows, switching),
    noise: noiseSummary(windows, recording),
    assumptions,
    warnings: [
      ...unsteadyNoise(windows, switching.noiseRatio ?? 1),
      ...contradictions(windows),
      ...windows.flatMap(({ strays }) => strays.map((stray) => ({ code: "stray-release" as const, ...stray }))),
    ],
  };
}

/** Says so where the noise swells and fades; it is reckoned with. */
function unsteadyNoise(windows: readonly DetectedWindow[], searchedRatio: number): readonly Warning[] {
  const ratio = Math.max(searchedRatio, ...windows.map(({ detection }) => detection.design.series.noiseRatio ?? 1));
  return ratio > 1 ? [{ code: "noise-not-stationary", ratio }] : [];
}

/** What of the profile the dips clearly contradict, load by load. */
function contradictions(windows: readonly DetectedWindow[]): readonly Warning[] {
  const told = new Map<string, Warning>();
  for (const { id, refined } of windows.flatMap(({ detection }) => detection.responses)) {
    if (refined?.contradicted === undefined) continue;
    told.set(`${id} ${refined.contradicted}`, { code: "profile-contradicted", load: id, what: refined.contradicted });
  }
  return [...told.values()];
}

/** Level of the bus with the switched loads off, at the end of the last judged stretch; null for none. */
export function quietLevel(detected: Detected): Uncertain | null {
  const last = detected.windows.at(-1);
  const driftV = last?.single.joint?.driftV;
  if (last === undefined || driftV === undefined) return null;
  const { noise } = last.detection.fit;
  return { value: driftV[driftV.length - 1], u: rootSumSquares(noise.colouredV, noise.whiteV / 3) };
}

/** One response per load: those of its stretches, weighted by how much each can tell. */
function mergedLoads(windows: readonly DetectedWindow[], switching: Switching): DetectedLoad[] {
  return switching.loads.flatMap(({ id, onTimes, timeUncertaintyS }): DetectedLoad[] => {
    const responses = windows.flatMap(({ detection }) => detection.responses.filter((one) => one.id === id));
    const dips = windows.flatMap(({ single }) => single.dips.filter((dip) => dip.load === id));
    if (responses.length === 0) return [];
    const goesOn = windows.some(({ detection }) =>
      detection.responses.some((one) => one.id === id && rhythmGoesOn(detection, one)),
    );
    const strays = windows.flatMap((window) => window.strays.filter(({ load }) => load === id));
    const strayed = mostStray(strays, onTimes.length);
    const edgesDisagree =
      (strays.length > 0 && fewDiffer(dips)) ||
      windows.some(({ detection }) =>
        detection.responses.some(
          (one) => one.id === id && (oneEdgeOnly(detection, one) || oneHalfOnly(detection, one)),
        ),
      );
    // A level that shifts once has one clear end, and a search finds another in noise or wander.
    const stepChance =
      switching.mode === "searched"
        ? Math.max(
            ...windows.flatMap(({ detection }) =>
              detection.responses.flatMap((one) => (one.id === id ? stepPValue(detection, one) : [])),
            ),
          )
        : 0;
    const response = responses.length === 1 ? responses[0] : mergedResponse(responses);
    const marksOff = windows.flatMap(({ offs }) => offs.get(id) ?? []);
    return [
      {
        response,
        dips,
        edgesDisagree,
        stepPValue: stepChance,
        rhythmGoesOn: goesOn,
        strayed,
        marksOffS: marksOff[0] ?? null,
        besideOwnMarks: switching.mode === "marked" && mostOff(responses, timeUncertaintyS),
      },
    ];
  });
}

/** Whether a load went astray for good, or in half of its switchings: then too few of them went as marked to vouch for it. */
function mostStray(strays: readonly StrayRelease[], switchingCount: number): boolean {
  return strays.some(({ lasting }) => lasting) || 2 * strays.length >= switchingCount;
}

/**
 * Inverse-variance mean of the depths. Each stretch's p-value counts as the normal score of that probability, weighted by
 * how much the stretch can tell (Stouffer's method).
 */
function mergedResponse(responses: readonly MarkedResponse[]): MarkedResponse {
  const strongest = responses.reduce((best, one) => (one.score > best.score ? one : best));
  const voltsPerScore = 1 / Math.sqrt(responses.reduce((sum, one) => sum + power(one.voltsPerScore, -2), 0));
  let weight = 0;
  let sum = 0;
  for (const { depth } of responses) {
    const { mean, sd } = mixtureMoments(depth);
    weight += power(sd, -2);
    sum += mean / squared(sd);
  }
  return {
    ...strongest,
    onTimes: responses.flatMap((one) => one.onTimes),
    score: responses.reduce((total, one) => total + normalScore(one) * (voltsPerScore / one.voltsPerScore), 0),
    distribution: NORMAL_SCORE,
    voltsPerScore,
    expectedVoltsPerScore: 1 / Math.sqrt(responses.reduce((sum, one) => sum + power(one.expectedVoltsPerScore, -2), 0)),
    depth: {
      means: Float64Array.of(sum / weight),
      sds: Float64Array.of(power(weight, -0.5)),
      weights: Float64Array.of(1),
    },
    refined: null,
    roundingCounted: responses.every((one) => one.roundingCounted),
  };
}

function normalScore({ distribution, score }: MarkedResponse): number {
  const pValue = Math.min(Math.max(distribution.pValue(score), 1e-300), 1 - 1e-12);
  return -normalQuantile(pValue);
}

/** A single score that is standard normal without a response. */
const NORMAL_SCORE: ScoreDistribution = {
  pValue: normalSurvival,
  criticalScore: (rate) => -normalQuantile(rate),
  detectableSize: (critical, power) => Math.max(0, critical + normalQuantile(power)),
};

function intervalNote(windows: readonly DetectedWindow[], quantumV: number | null): readonly Assumption[] {
  const judged = windows.filter(({ detection }) => detection.responses.some((one) => one.roundingCounted));
  if (judged.length === 0 || quantumV === null) return [];
  const sigmaV = Math.max(
    ...judged.map(({ detection: { fit } }) => rootSumSquares(fit.noise.whiteV, fit.noise.colouredV)),
  );
  return [{ code: "interval-likelihood", quantumV, sigmaV }];
}

function lagAssumption(windows: readonly DetectedWindow[], meter: MeterProfile | undefined): Assumption {
  const responses = windows.flatMap(({ detection }) => detection.responses);
  const clearest = [...responses].sort((a, b) => b.score - a.score)[0];
  const { lagS = 0, dampingRatio } = clearest?.shape ?? {};
  if (dampingRatio !== undefined) {
    return { code: "needle-swings", frequencyHz: 1 / (2 * Math.PI * lagS), dampingRatio };
  }
  const isHeld = meter?.lagS !== undefined && !(clearest?.refined?.contradicted ?? "").includes("lag");
  return isHeld ? { code: "lag-from-profile", lagS: meter.lagS! } : { code: "lag-searched", lagS };
}

function noiseSummary(windows: readonly DetectedWindow[], recording: Recording): Omit<NoiseSummary, "quantumV"> {
  const longest = [...windows].sort(
    (a, b) => b.detection.design.series.timesS.length - a.detection.design.series.timesS.length,
  )[0];
  if (longest === undefined) {
    // Nothing was judged: the scatter from one reading to the next is all that can be said.
    const scatterV = readingScatterV(recording.voltagesV);
    return { sigmaV: scatterV, ar1: 0, whiteV: scatterV, colouredV: 0, colouredTimeS: 0, walkVPerSqrtS: 0 };
  }
  const { noise } = longest.detection.fit;
  const { series, intervalS } = longest.detection.design;
  const meanCount = series.readingCounts.reduce((sum, c) => sum + c, 0) / series.timesS.length;
  const blockWhiteV = noise.whiteV / Math.sqrt(meanCount);
  return {
    sigmaV: rootSumSquares(noise.whiteV, noise.colouredV),
    ar1: lagOne(noise, blockWhiteV, intervalS),
    whiteV: noise.whiteV,
    colouredV: noise.colouredV,
    colouredTimeS: noise.colouredTimeS,
    walkVPerSqrtS: noise.walkVPerSqrtS,
  };
}

function lagOne(noise: NoiseParameters, blockWhiteV: number, intervalS: number): number {
  const coloured = squared(noise.colouredV);
  const total = coloured + squared(blockWhiteV);
  return total > 0 ? (coloured * exponential(-intervalS / noise.colouredTimeS)) / total : 0;
}
