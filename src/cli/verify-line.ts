import type { analyze } from "../core/index.js";
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
  /** The judgement itself; whoever checks many records of the same inputs may compute each once. */
  readonly analyze?: typeof analyze;
}

/** Whether the numbers must come out the same here: by the version, and by the very program files. */
export function softwareLines(version: string, makerSha256: string | undefined, means: CheckMeans): CheckLine[] {
  const what = "software";
  if (version !== means.softwareVersion) {
    const detail = `made by version ${version}, this is ${means.softwareVersion}; only the former must give the same numbers`;
    return [{ what, state: "not checked", detail }];
  }
  if (makerSha256 === undefined || makerSha256 === means.judgementSha256) return [];
  const detail = `other program files of version ${version} made it (${makerSha256.slice(0, 8)}, here ${means.judgementSha256.slice(0, 8)}), so numbers may differ`;
  return [{ what, state: "not checked", detail }];
}
