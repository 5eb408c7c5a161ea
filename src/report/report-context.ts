import type { BusProfile, WholeBus } from "../core/index.js";

/** What a report says beside the analysis: where the readings came from and what made the report. */
export interface ReportContext {
  /** Name of the file or clip the readings came from. */
  readonly source: string;
  /** SHA-256 of that file, in hexadecimal. */
  readonly sha256: string;
  readonly profile: BusProfile | null;
  /** The profile as the person wrote it. */
  readonly profileText?: string;
  /** What the importer understood of the file, one sentence each. */
  readonly understood: readonly string[];
  /** The same in few words, and what to look at. */
  readonly digest?: readonly string[];
  readonly softwareVersion: string;
  /** Moment of making, ISO 8601; passed in, so that the same input gives the same report. */
  readonly madeAt: string;
  /** Options of the run that differ from the defaults, as typed. */
  readonly options?: readonly string[];
  /** Every item of the bus with what stands for or against it, where a run sheet was ticked. */
  readonly wholeBus?: WholeBus;
}
