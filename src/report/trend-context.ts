import type { BatteryTrend, FlightReading, NormalizationNote } from "../core/index.js";

/** A battery's trend with what the history knows of it. */
export interface BatteryStory extends BatteryTrend {
  readonly aircraft: string | null;
  /** ISO 8601 dates. */
  readonly installedOn: string | null;
  readonly retiredOn: string | null;
  readonly flightCount: number;
  /** How resistances were brought to the reference; null where none was. */
  readonly normalization: NormalizationNote | null;
}

/** What a trend report needs to know beside the judgement. */
export interface TrendContext {
  /** Where the history lies, as people are shown it. */
  readonly store: string;
  /** ISO 8601 moment. */
  readonly madeAt: string;
  readonly softwareVersion: string;
  /** Whether scatter and correlation come from the whole fleet. */
  readonly fleetKnown: boolean;
  /** Address of a flight's own report; null where there is none. */
  readonly reportHref: (reading: FlightReading) => string | null;
}
