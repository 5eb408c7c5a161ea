import type { LoadProfile, ShownBy } from "../profile.js";
import type { SwitchingMark } from "../series/recording.js";
import type { ExpectedDip, PlannedSource } from "./expected-dip.js";
import type { PlannedReadings } from "./planned-readings.js";
import type { SwitchingPattern } from "./switching-pattern.js";

/** The whole bus check, before it is run. */
export interface CheckPlan {
  readonly falseAlarmRate: number;
  /** Wanted chance that a load which draws its lowest acceptable current is found. */
  readonly power: number;
  /** Standard uncertainty of a switching time against its mark, seconds. */
  readonly timeUncertaintyS: number;
  readonly readings: PlannedReadings | null;
  readonly source: PlannedSource | null;
  readonly busV: { readonly value: number; readonly u: number };
  /** Depth that friction of the needle may hide, volts; taken off every dip that must be found. */
  readonly hiddenV: number;
  /** Every load, in the order of the check. */
  readonly items: readonly PlannedItem[];
  /** From the first reading to the last switching and the quiet after it. */
  readonly durationS: number;
  /** Planned switchings of the loads that the meter shows. */
  readonly marks: readonly SwitchingMark[];
}

export interface PlannedItem {
  readonly load: LoadProfile;
  readonly shows: ShownBy;
  /** When its turn comes, seconds from the first reading. */
  readonly startS: number;
  readonly durationS: number;
  /** For a load that only the meter shows; null for the others. */
  readonly needle: NeedlePlan | null;
}

/** How the meter will show one load, or why it cannot. */
export interface NeedlePlan {
  readonly expected: ExpectedDip;
  /** What this many switchings in this rhythm would find with the wanted power; null where nothing can be reckoned. */
  readonly minimumDetectableV: number | null;
  readonly pattern: SwitchingPattern | null;
  /** Chance that `analyze` says responded if every planned load draws its lowest acceptable current; null likewise. */
  readonly predictedPower: number | null;
  /** Null where it can be shown with the wanted power. */
  readonly obstacle: Obstacle | null;
}

/** Why the meter cannot show a load, and what would make it showable. */
export type Obstacle =
  | { readonly code: "no-resistance" }
  | { readonly code: "no-current" }
  | { readonly code: "no-reading-noise" }
  | { readonly code: "sampled-too-slowly"; readonly intervalS: number }
  | { readonly code: "display-too-coarse"; readonly stepV: number }
  | { readonly code: "shares-switch"; readonly others: readonly string[] }
  | { readonly code: "uncertain-resistance" }
  /** Friction may hold the needle back by more than the whole dip. */
  | { readonly code: "needle-friction"; readonly hiddenV: number }
  /** Readings this many times quieter would do. */
  | { readonly code: "too-small"; readonly quieterBy: number }
  | {
      readonly code: "time-limit";
      readonly limitS: number;
      readonly neededS: number | null;
      readonly quieterBy: number;
    };
