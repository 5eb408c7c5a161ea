import type { analyze } from "../core/index.js";
import type { PdfFonts } from "../report/pdf-flow.js";

/** `differs`: this program computes it otherwise, but is not the one that made the record. */
export type CheckState = "holds" | "changed" | "differs" | "not checked";

/** One thing that was checked. */
export interface CheckLine {
  readonly what: string;
  readonly state: CheckState;
  readonly detail: string;
}

/** What the check needs beside the file. */
export interface CheckMeans {
  readonly softwareVersion: string;
  /** SHA-256 over the program files that read, judge and draw, as they are here. */
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

/** The program that made a record, as the record states it; results of old do not state the files. */
export interface Maker {
  readonly version: string;
  readonly judgementSha256: string | undefined;
}

/** Whether this is the program that made a record, which must give the same numbers, words and figures. */
export function isMaker({ version, judgementSha256 }: Maker, means: CheckMeans): boolean {
  return (
    version === means.softwareVersion && (judgementSha256 === undefined || judgementSha256 === means.judgementSha256)
  );
}

/** Says where another program made a record: by the version, or by the very program files. */
export function softwareLines(maker: Maker, means: CheckMeans): CheckLine[] {
  if (isMaker(maker, means)) return [];
  const { version, judgementSha256 } = maker;
  const detail =
    version === means.softwareVersion
      ? `other program files of version ${version} made it (judgement ${judgementSha256!.slice(0, 8)}, here ${means.judgementSha256.slice(0, 8)}); only those must give the same numbers`
      : `made by version ${version}, this is ${means.softwareVersion}; only the former must give the same numbers`;
  return [{ what: "software", state: "not checked", detail }];
}
