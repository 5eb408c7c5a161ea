import type { Recording } from "../core/index.js";
import type { CarriedFile, EmbeddedReading } from "../report/embedded-data.js";
import { readPictures } from "../report/pictures.js";
import { LARGEST_CARRIED_BYTES, type StatedInputs } from "../report/record-inputs.js";
import { recordingCsv } from "../report/recording-csv.js";
import type { ResultJson } from "../report/result-schema.js";
import { type SealedKind, sha256Hex } from "../report/seal.js";
import type { CheckLine, CheckMeans } from "./verify-line.js";
import { type FoundReadings, readingsFromFile, readingsFromText } from "./verify-recording.js";

/** What a record is computed again from, and what was found of each part on the way. */
export interface FoundInputs {
  readonly recording: Recording | null;
  /** The readings as used, where they came from a file beside a result and are few enough to be carried. */
  readonly readingsText: string | null;
  readonly profileText: string | null;
  readonly marksText: string | null;
  readonly sheetText: string | null;
  /** Of a film; not judged from, only shown. */
  readonly picturesText: string | null;
  readonly lines: readonly CheckLine[];
}

/** The readings, the profile and the marks to compute from: carried, else stated, else given. */
export async function findInputs(
  kind: SealedKind,
  result: ResultJson,
  embedded: EmbeddedReading,
  means: CheckMeans,
): Promise<FoundInputs> {
  const stated = result.inputs as StatedInputs | undefined;
  const lines: CheckLine[] = [];
  const textOf = (
    name: "profile.yaml" | "marks.csv" | "check.yaml",
    statedText: StatedInputs["profile"] | undefined,
    given?: string,
  ) => {
    const carried = embedded.files.get(name);
    const text = carried ?? statedText?.text ?? given ?? null;
    if (statedText != null && kind !== "json" && isMissing(embedded, name)) lines.push(missingLine(name));
    else if (statedText != null && text !== null) {
      const holds = sha256Hex(text) === statedText.sha256 && text === statedText.text;
      const detail = holds ? "as the result names it" : "not the one that the result was computed from";
      lines.push({ what: name, state: holds ? "holds" : "changed", detail });
    } else if (carried !== undefined) {
      lines.push({ what: name, state: "changed", detail: "carried, but the result was computed without one" });
    }
    return text;
  };

  const carriedReadings = embedded.files.get("recording.csv");
  const readings =
    means.recordingPath !== undefined
      ? await readingsFromFile(means.recordingPath, result)
      : carriedReadings !== undefined
        ? readingsFromText(carriedReadings, stated)
        : null;
  const fewEnough = stated !== undefined && stated.recording.bytes <= LARGEST_CARRIED_BYTES;
  if (kind !== "json" && fewEnough && isMissing(embedded, "recording.csv")) lines.push(missingLine("recording.csv"));
  lines.push(
    readings === null
      ? { what: "recording.csv", state: "not checked", detail: "not carried; give the recording with --recording" }
      : { what: "recording.csv", state: readings.holds ? "holds" : "changed", detail: readings.detail },
  );
  const profileText = textOf("profile.yaml", stated?.profile, means.profileText);
  const marksText = textOf("marks.csv", stated?.marks, means.marksText);
  const sheetText = textOf("check.yaml", stated?.sheet);
  const readingsText = readings?.holds === true && stated !== undefined ? carriedText(readings, stated) : null;
  const picturesText = embedded.files.get("pictures.json") ?? null;
  lines.push(...pictureLines(kind, picturesText, stated?.pictures));
  return {
    recording: readings?.recording ?? null,
    readingsText,
    profileText,
    marksText,
    sheetText,
    picturesText,
    lines,
  };
}

function isMissing({ files, damaged }: EmbeddedReading, name: CarriedFile["name"]): boolean {
  return !files.has(name) && !damaged.has(name);
}

function missingLine(what: CarriedFile["name"]): CheckLine {
  return { what, state: "changed", detail: "the report carries it no more" };
}

function pictureLines(kind: SealedKind, carried: string | null, stated: StatedInputs["pictures"]): CheckLine[] {
  if (carried === null && stated === undefined) return [];
  const line = (state: CheckLine["state"], detail: string) => [{ what: "pictures.json", state, detail }];
  if (stated === undefined) return line("changed", "carried, but the record was made without pictures");
  if (carried === null && kind === "json") return line("not checked", "only the reports carry them");
  if (carried === null) return [missingLine("pictures.json")];
  const holds = sha256Hex(carried) === stated.sha256 && readPictures(carried) !== null;
  return line(holds ? "holds" : "changed", holds ? "as the result names them" : "not those that the result names");
}

function carriedText({ recording }: FoundReadings, stated: StatedInputs): string | null {
  return recording === null || stated.recording.bytes > LARGEST_CARRIED_BYTES ? null : recordingCsv(recording);
}
