import type { DetectionMode } from "../analysis.js";
import type { Assumption } from "../notes.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Recording, SwitchingMark } from "../series/recording.js";
import type { RandomGenerator } from "../statistics/random.js";
import { loadPatterns } from "./load-patterns.js";
import type { OnTime } from "./switching-template.js";

/** A load with the times at which it was switched, however they were found. */
export interface SwitchedLoad {
  readonly id: string;
  readonly name: string;
  readonly profile: LoadProfile | null;
  readonly onTimes: readonly OnTime[];
  /** What the search says; null where the times were known beforehand. */
  readonly searched: SearchedEvidence | null;
}

/** Error rates of a response whose times had to be searched for. */
export interface SearchedEvidence {
  readonly pValue: number;
  readonly criticalDepthV: number;
  readonly minimumDetectableDepthV: number;
}

/** When which load was switched. */
export interface Switching {
  readonly mode: DetectionMode;
  readonly loads: readonly SwitchedLoad[];
  /** Loads of the profile that nobody switched. */
  readonly untouched: readonly LoadProfile[];
  readonly timeUncertaintyS: number;
  readonly assumptions: readonly Assumption[];
}

export interface SwitchingOptions {
  readonly marks?: readonly SwitchingMark[] | null;
  readonly profile: BusProfile | null;
  readonly markUncertaintyS?: number;
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly random: RandomGenerator;
}

/** Standard uncertainty of a mark that a person set by hand. Common practice, no source. */
const HAND_MARK_S = 0.2;

/** Name given to switchings that nobody attributed to a load. */
const UNTOLD = "switched-load";

/** Takes the switching times from the marks; without marks they are unknown. */
export function findSwitching(recording: Recording, options: SwitchingOptions): Switching {
  const { timesS } = recording;
  const marks = options.marks ?? [];
  const range = { startS: timesS[0], endS: timesS[timesS.length - 1] };
  return fromMarks(marks, range, options);
}

function fromMarks(
  marks: readonly SwitchingMark[],
  range: { readonly startS: number; readonly endS: number },
  options: SwitchingOptions,
): Switching {
  const { patterns, ignored } = loadPatterns(marks, range);
  const timeUncertaintyS = options.markUncertaintyS ?? HAND_MARK_S;
  const profileLoads = options.profile?.loads ?? [];
  const assumptions: Assumption[] = [
    { code: "switching-from-marks", markCount: marks.length, jitterS: timeUncertaintyS },
    ...ignored,
  ];
  const loads: SwitchedLoad[] = [];
  for (const [told, onTimes] of patterns) {
    const only = told === null && profileLoads.length === 1 ? profileLoads[0] : null;
    if (only !== null) assumptions.push({ code: "load-by-elimination", load: only.id });
    else if (told === null) assumptions.push({ code: "load-not-told", dipCount: onTimes.length });
    const profile = only ?? profileLoads.find(({ id }) => id === told) ?? null;
    const id = profile?.id ?? told ?? UNTOLD;
    loads.push({ id, name: profile?.name ?? id, profile, onTimes, searched: null });
  }
  return {
    mode: "marked",
    loads,
    untouched: profileLoads.filter(({ id }) => !loads.some((load) => load.id === id)),
    timeUncertaintyS,
    assumptions,
  };
}
