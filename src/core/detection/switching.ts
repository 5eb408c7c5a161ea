import type { DetectionMode, DetectionSummary } from "../analysis.js";
import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { Assumption } from "../notes.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Recording, SwitchingMark } from "../series/recording.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { currentOnTimes, groupsBySize } from "./current-on-times.js";
import { dipsInPieces } from "./dips-in-pieces.js";
import { loadPatterns } from "./load-patterns.js";
import { mergedTrains } from "./merged-trains.js";
import { searchTrains } from "./search.js";
import { searchSeries } from "./search-series.js";
import type { OnTime } from "./switching-template.js";
import { withoutUnread } from "./unread-on-times.js";
import { mayBeWander } from "./wander-story.js";

/** A load with the times at which it was switched, however they were found. */
export interface SwitchedLoad {
  readonly id: string;
  readonly name: string;
  readonly profile: LoadProfile | null;
  readonly onTimes: readonly OnTime[];
  /** Standard uncertainty of those times, seconds. */
  readonly timeUncertaintyS: number;
  /** Loads of the profile that were switched at the same times; they are judged as one. */
  readonly twins: readonly LoadProfile[];
  /** What the search says; null where the times were known beforehand. */
  readonly searched: SearchedEvidence | null;
}

/** Error rates of a response whose times had to be searched for. */
export interface SearchedEvidence {
  readonly pValue: number;
  /** Share of its own depth at which it would just have been found; the limits are those of ordinary switchings. */
  readonly criticalShare: number;
  readonly criticalDepthV: number;
  readonly minimumDetectableDepthV: number;
  /** True depth that would hardly ever be missed. */
  readonly surelyDetectableDepthV: number;
  /** What was found may be pieces of longer dips, so that it stands for no load. */
  readonly inPieces: boolean;
  /** The level may have wandered there, more than elsewhere. */
  readonly maybeWander: boolean;
}

/** Limits of a search, and of which switchings they are; null where it could have shown none. */
export type SearchLimits = Pick<DetectionSummary, "criticalDepthV" | "minimumDetectableDepthV" | "limitsOf">;

/** When which load was switched. */
export interface Switching {
  readonly mode: DetectionMode;
  readonly loads: readonly SwitchedLoad[];
  /** Loads of the profile that nobody switched. */
  readonly untouched: readonly LoadProfile[];
  /** 1 where a positive current discharges, -1 where it charges; null where the current was not used. */
  readonly dischargeSign: 1 | -1 | null;
  /** What the search could have shown; absent where nothing was searched for. */
  readonly searchLimits?: SearchLimits;
  /** Largest over smallest size of the noise in what was searched; absent where nothing was. */
  readonly noiseRatio?: number;
  /** Noise beside what the search found; absent where nothing was searched. */
  readonly searchedNoise?: NoiseParameters;
  readonly assumptions: readonly Assumption[];
}

export interface SwitchingOptions {
  readonly marks?: readonly SwitchingMark[] | null;
  readonly profile: BusProfile | null;
  readonly markUncertaintyS?: number;
  readonly cadence?: { readonly onS: number; readonly offS: number; readonly switchingCount?: number } | null;
  readonly displayStepV: number | null;
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly random: RandomGenerator;
}

/** Standard uncertainty of a mark that a person set by hand. Common practice, no source. */
const HAND_MARK_S = 0.2;

/** Name given to switchings that nobody attributed to a load. */
export const UNTOLD = "switched-load";

/** Takes the switching times from the marks, else from the measured current; else they are searched for. */
export function findSwitching(recording: Recording, options: SwitchingOptions): Switching {
  const { timesS } = recording;
  const marks = options.marks ?? [];
  if (marks.length > 0) {
    const range = { startS: timesS[0], endS: timesS[timesS.length - 1] };
    return fromMarks(marks, { ...range, timesS }, recording.clockResolutionS ?? 0, options);
  }
  if (recording.current !== undefined) {
    const found = fromCurrent(recording, options);
    if (found !== null) return found;
  }
  return fromSearch(recording, options);
}

/** Searches the whole recording for trains of equal dips; which load made them is not known from their times. */
function fromSearch(recording: Recording, options: SwitchingOptions): Switching {
  const profileLoads = options.profile?.loads ?? [];
  const only = profileLoads.length === 1 ? profileLoads[0] : null;
  const assumptions: Assumption[] = [{ code: "switching-searched" }];
  const series = searchSeries(recording, options.displayStepV);
  const found =
    series === null
      ? null
      : searchTrains(series, {
          falseAlarmRate: options.falseAlarmRate,
          power: options.power,
          lagS: options.profile?.meter?.lagS,
          displayStepV: options.displayStepV,
          cadence: options.cadence ?? null,
          random: options.random,
        });
  if (found === null)
    assumptions.push({ code: "not-identifiable", what: "depth", load: null, why: "sampled-too-slowly" });
  const trains = mergedTrains(found?.trains ?? []);
  if (only !== null && trains.length <= 1) assumptions.push({ code: "load-by-elimination", load: only.id });
  else if (trains.length > 0) {
    assumptions.push({ code: "load-not-told", dipCount: trains.reduce((sum, { onTimes }) => sum + onTimes.length, 0) });
  }
  const single = only !== null && trains.length <= 1;
  const shown = trains.length > 0 ? trains : found?.best == null ? [] : [found.best];
  const inPieces = dipsInPieces(recording, trains, found?.noise ?? NO_WANDER);
  const loads = shown.map((train, k): SwitchedLoad => {
    const id = single ? only.id : shown.length === 1 ? UNTOLD : `${UNTOLD}-${k + 1}`;
    return {
      id,
      name: single ? (only.name ?? id) : id,
      profile: single ? only : null,
      onTimes: train.onTimes,
      timeUncertaintyS: SEARCHED_TIME_S,
      twins: [],
      searched: {
        pValue: train.pValue,
        criticalShare: train.criticalShare,
        criticalDepthV: found!.criticalDepthV,
        minimumDetectableDepthV: found!.minimumDetectableDepthV,
        surelyDetectableDepthV: found!.surelyDetectableDepthV,
        inPieces: inPieces[k] ?? false,
        maybeWander:
          trains.length > 0 &&
          mayBeWander(
            series!,
            found!.noise,
            train,
            trains.filter((one) => one !== train).flatMap(({ columns }) => columns),
          ),
      },
    };
  });
  return {
    mode: "searched",
    loads,
    untouched: profileLoads.filter(({ id }) => !loads.some((load) => load.id === id)),
    dischargeSign: null,
    noiseRatio: series?.noiseRatio ?? 1,
    ...(found === null ? {} : { searchedNoise: found.noise }),
    searchLimits: {
      criticalDepthV: found?.criticalDepthV ?? null,
      minimumDetectableDepthV: found?.minimumDetectableDepthV ?? null,
      limitsOf: found?.limitsOf ?? null,
    },
    assumptions,
  };
}

const NO_WANDER = { colouredV: 0, walkVPerSqrtS: 0 };

/** Share of the time on that two loads must have in common to count as switched together. */
const TOGETHER = 0.75;

/** Whether two loads were on at the same times, as well as marks can tell. */
function sameTimes(a: readonly OnTime[], b: readonly OnTime[]): boolean {
  const length = (times: readonly OnTime[]) => times.reduce((sum, one) => sum + one.releaseS - one.onsetS, 0);
  let common = 0;
  for (const one of a) {
    for (const two of b) {
      common += Math.max(0, Math.min(one.releaseS, two.releaseS) - Math.max(one.onsetS, two.onsetS));
    }
  }
  return common > TOGETHER * (length(a) + length(b) - common);
}

/** Standard uncertainty of a switching time that the search found: a hand keeps its rhythm about this well. */
const SEARCHED_TIME_S = 0.35;

/** On-times seen in the measured current, told apart by their size; null where the current shows none. */
function fromCurrent(recording: Recording, options: SwitchingOptions): Switching | null {
  const { onTimes, sign, chargingCount } = currentOnTimes(recording);
  if (onTimes.length === 0 || sign === null) return null;
  const profileLoads = options.profile?.loads ?? [];
  const taken = new Set<string>();
  const assumptions: Assumption[] = [
    { code: "switching-from-current", stepCount: onTimes.length },
    { code: "discharge-sign", sign },
  ];
  if (chargingCount > 0) assumptions.push({ code: "charge-steps-left-out", stepCount: chargingCount });
  const loads = groupsBySize(onTimes).map((group): SwitchedLoad => {
    const sizeA = group.reduce((sum, { changeA }) => sum + Math.abs(changeA), 0) / group.length;
    const fitting = profileLoads.filter(
      ({ id, acceptA }) => acceptA !== undefined && !taken.has(id) && within(sizeA, acceptA),
    );
    const profile = fitting.length === 1 ? fitting[0] : null;
    if (profile !== null) {
      taken.add(profile.id);
      assumptions.push({ code: "load-by-current", load: profile.id, currentA: sizeA });
    }
    const id = profile?.id ?? uniqueId(`load-of-${sizeA.toPrecision(2)}-A`, taken);
    return {
      id,
      name: profile?.name ?? id,
      profile,
      onTimes: group,
      timeUncertaintyS: Math.max(...group.map(({ uTimeS }) => uTimeS)),
      twins: [],
      searched: null,
    };
  });
  return {
    mode: "current",
    loads,
    untouched: profileLoads.filter(({ id }) => !taken.has(id)),
    dischargeSign: sign,
    assumptions,
  };
}

function within(value: number, [low, high]: readonly [number, number]): boolean {
  return value >= low && value <= high;
}

function uniqueId(wanted: string, taken: Set<string>): string {
  let id = wanted;
  for (let k = 2; taken.has(id); k++) id = `${wanted}-${k}`;
  taken.add(id);
  return id;
}

function fromMarks(
  marks: readonly SwitchingMark[],
  range: { readonly startS: number; readonly endS: number; readonly timesS: Float64Array },
  clockResolutionS: number,
  options: SwitchingOptions,
): Switching {
  const { patterns, ignored } = withoutUnread(loadPatterns(marks, range), range.timesS);
  // Stamps cut to whole steps of the clock lie anywhere within them.
  const timeUncertaintyS = rootSumSquares(options.markUncertaintyS ?? HAND_MARK_S, clockResolutionS / Math.sqrt(12));
  const profileLoads = options.profile?.loads ?? [];
  const assumptions: Assumption[] = [
    { code: "switching-from-marks", markCount: marks.length - ignored.length, jitterS: timeUncertaintyS },
    ...ignored,
  ];
  const loads: SwitchedLoad[] = [];
  for (const [told, onTimes] of patterns) {
    const only = told === null && profileLoads.length === 1 ? profileLoads[0] : null;
    if (only !== null) assumptions.push({ code: "load-by-elimination", load: only.id });
    else if (told === null) assumptions.push({ code: "load-not-told", dipCount: onTimes.length });
    const profile = only ?? profileLoads.find(({ id }) => id === told) ?? null;
    const id = profile?.id ?? told ?? UNTOLD;
    const twin = loads.find((load) => sameTimes(load.onTimes, onTimes));
    if (twin === undefined) {
      loads.push({ id, name: profile?.name ?? id, profile, onTimes, timeUncertaintyS, twins: [], searched: null });
    } else if (profile !== null) {
      loads[loads.indexOf(twin)] = { ...twin, twins: [...twin.twins, profile] };
    }
  }
  const shared = loads.map((load) => ({ ...load, twins: [...load.twins, ...sharersOf(load, loads, profileLoads)] }));
  const twins = new Set(shared.flatMap((load) => load.twins.map((twin) => twin.id)));
  return {
    mode: "marked",
    loads: shared,
    untouched: profileLoads.filter(({ id }) => !twins.has(id) && !loads.some((load) => load.id === id)),
    dischargeSign: null,
    assumptions,
  };
}

/** Loads on the same switch that nobody marked apart: whoever switches the one switches them too. */
function sharersOf(
  { profile }: SwitchedLoad,
  marked: readonly SwitchedLoad[],
  profileLoads: readonly LoadProfile[],
): readonly LoadProfile[] {
  if (profile?.switch === undefined) return [];
  const known = new Set(marked.flatMap(({ id, twins }) => [id, ...twins.map((twin) => twin.id)]));
  return profileLoads.filter((one) => one.switch === profile.switch && !known.has(one.id));
}
