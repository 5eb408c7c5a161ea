/** One analysed recording as the history keeps it. SI units; moments in seconds since 1970-01-01 UTC. */
export interface RecordingEntry {
  /** SHA-256 of the recording, hexadecimal; the same recording is kept once. */
  readonly hash: string;
  readonly battery: string;
  readonly aircraft: string | null;
  readonly bus: string | null;
  /** When the recording was made. */
  readonly atS: number;
  readonly source: string;
  readonly sampleCount: number | null;
  readonly durationS: number | null;
  readonly sampleRateHz: number | null;
  /** Noise of one reading. */
  readonly sigmaV: number | null;
  readonly temperatureC: number | null;
  /** 0 to 1. */
  readonly stateOfCharge: number | null;
  readonly requiredEnduranceMin: number | null;
  /** Path or address of the recording's own report. */
  readonly report: string | null;
  readonly software: string | null;
  readonly remark: string | null;
  readonly dips: readonly DipEntry[];
  readonly estimates: readonly EstimateEntry[];
  readonly answers: readonly AnswerEntry[];
  readonly notes: readonly NoteEntry[];
}

export interface DipEntry {
  readonly onsetS: number;
  readonly releaseS: number;
  readonly depthV: number;
  readonly uV: number;
  readonly load: string | null;
}

/** Quantities that a recording may tell; `normalized-resistance` is at the reference temperature and state of charge. */
export const ESTIMATED = [
  "source-resistance",
  "internal-resistance",
  "normalized-resistance",
  "open-circuit",
  "endurance",
  "load-current",
] as const;
export type Estimated = (typeof ESTIMATED)[number];

/** Ohm, V, A or min by quantity. */
export interface EstimateEntry {
  readonly quantity: Estimated;
  /** Only for the current of a load. */
  readonly load: string | null;
  /** Seconds after the step, only for resistances. */
  readonly afterS: number | null;
  readonly value: number;
  readonly u: number;
  readonly low: number | null;
  readonly high: number | null;
  readonly coverage: number | null;
  readonly route: string | null;
}

export interface AnswerEntry {
  readonly load: string;
  readonly name: string;
  readonly verdict: string;
  readonly pValue: number | null;
  readonly switchingCount: number;
}

export interface NoteEntry {
  readonly kind: "assumption" | "warning" | "caution";
  readonly code: string;
  readonly text: string;
}

/** A battery and what its plate says. */
export interface BatteryEntry {
  readonly id: string;
  readonly chemistry: string | null;
  readonly cells: number | null;
  readonly capacityAh: number | null;
  /** ISO 8601 date. */
  readonly retiredOn: string | null;
  readonly retiredBecause: string | null;
}

/** A battery in an aircraft from one day to another (exclusive); ISO 8601 dates. */
export interface InstallationEntry {
  readonly battery: string;
  readonly aircraft: string;
  readonly bus: string;
  readonly installedOn: string;
  readonly removedOn: string | null;
  /** The battery was renewed under its old number: what it did before no longer counts. */
  readonly newLife: boolean;
}
