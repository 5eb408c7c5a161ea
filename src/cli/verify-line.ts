import type { PdfFonts } from "../report/pdf-flow.js";

export type CheckState = "holds" | "changed" | "not checked";

/** One thing that was checked. */
export interface CheckLine {
  readonly what: string;
  readonly state: CheckState;
  readonly detail: string;
}

/** What the check needs beside the file. */
export interface CheckMeans {
  readonly softwareVersion: string;
  /** SHA-256 over the program files of the judgement as they are here. */
  readonly judgementSha256: string;
  readonly plotlySource: () => Promise<string>;
  readonly fonts: () => Promise<PdfFonts>;
  /** Readings given beside the record. */
  readonly recordingPath?: string;
  /** A profile and marks given for a result that does not state its own. */
  readonly profileText?: string;
  readonly marksText?: string;
}
