import type { Analysis, Recording } from "../core/index.js";
import type { LogOptions } from "../importers/browser.js";
import type { GivenInputs } from "../report/record-inputs.js";
import type { ReportContext } from "../report/report-context.js";
import type { BeatLoad } from "./beat-plan.js";
import type { FilmOrigin } from "./film-origin.js";

/** What the thread beside the page is asked. */
export type JudgeRequest =
  | { readonly kind: "plan"; readonly profileText: string | null; readonly switchingCount: number | null }
  | ({ readonly kind: "look" } & ChosenRecording)
  | ({
      readonly kind: "judge";
      readonly profileText: string | null;
      readonly marksText: string | null;
      readonly markUncertaintyS: number;
    } & ChosenRecording);

/** A log that was chosen, or the readings of a clip. */
export interface ChosenRecording {
  readonly file: Blob;
  readonly name: string;
  readonly logOptions: LogOptions;
  /** Where the readings of a clip come from; null for a log. */
  readonly film: FilmOrigin | null;
}

/** What it answers. `refused` is the person's to mend, `fault` is ours. */
export type JudgeAnswer =
  | { readonly kind: "stage"; readonly stage: "reading" | "judging" }
  | { readonly kind: "planned"; readonly loads: readonly BeatLoad[] }
  | { readonly kind: "looked"; readonly look: LogLook }
  | { readonly kind: "judged"; readonly judged: Judged }
  | { readonly kind: "refused"; readonly sentence: string }
  | { readonly kind: "fault"; readonly message: string };

/** A log at a glance. */
export interface LogLook {
  readonly readingCount: number;
  readonly startS: number;
  readonly endS: number;
  readonly lowestV: number;
  readonly highestV: number;
  readonly startEpochS: number | null;
  readonly understood: readonly string[];
  /** Lowest and highest reading of even stretches of time, for a small drawing; NaN where there are none. */
  readonly trace: { readonly lowV: Float64Array; readonly highV: Float64Array };
}

/** A judged recording with all that the reports need. */
export interface Judged {
  readonly recording: Recording;
  readonly analysis: Analysis;
  readonly context: ReportContext;
  readonly given: GivenInputs;
  /** The clip that the readings come from; null for a log. */
  readonly film: FilmOrigin | null;
  readonly startEpochS: number | null;
}
