import { gunzipSync, gzipSync } from "fflate";
import type { Analysis } from "../core/index.js";
import { type Markup, markup, scriptData } from "./markup.js";
import { type RecordInputs, statedInputs } from "./record-inputs.js";
import type { ReportContext } from "./report-context.js";
import { toResultJson } from "./result-json.js";
import type { ResultJson } from "./result-schema.js";
import { BLANK_SEAL, sealed, sha256Hex } from "./seal.js";

const EMBEDDED_SCHEMA_NAME = "busdip-record/1";

/** A file that a report carries. */
export interface CarriedFile {
  readonly name: "recording.csv" | "profile.yaml" | "marks.csv" | "check.yaml" | "pictures.json" | "result.json";
  readonly mediaType: string;
  readonly about: string;
  readonly text: string;
}

/** A result with all that is needed to compute it again. */
export interface RecordData {
  readonly inputs: RecordInputs;
  readonly result: ResultJson;
  /** `result.json` as a file: sealed, indented, with a line break at its end. */
  readonly resultText: string;
}

/** The result of an analysis, its inputs stated and sealed. */
export function recordData(analysis: Analysis, context: ReportContext, inputs: RecordInputs): RecordData {
  const result = { ...toResultJson(analysis, context), inputs: statedInputs(inputs), seal: BLANK_SEAL };
  const resultText = new TextDecoder().decode(sealed(new TextEncoder().encode(resultFileText(result)), "json"));
  return { inputs, result: JSON.parse(resultText) as ResultJson, resultText };
}

/** The files that a report carries, the readings first. */
export function carriedFiles({ inputs, resultText }: RecordData): readonly CarriedFile[] {
  const files: readonly (Omit<CarriedFile, "text"> & { readonly text: string | null })[] = [
    { name: "recording.csv", mediaType: "text/csv", about: "readings as used", text: inputs.recordingFile.text },
    { name: "profile.yaml", mediaType: "application/yaml", about: "profile as given", text: inputs.profileText },
    { name: "marks.csv", mediaType: "text/csv", about: "switching marks as given", text: inputs.marksText },
    {
      name: "check.yaml",
      mediaType: "application/yaml",
      about: "run sheet as ticked",
      text: inputs.sheetText ?? null,
    },
    {
      name: "pictures.json",
      mediaType: "application/json",
      about: "pictures of the film",
      text: inputs.picturesText ?? null,
    },
    { name: "result.json", mediaType: "application/json", about: "result, busdip-result/1", text: resultText },
  ];
  return files.filter((file): file is CarriedFile => file.text !== null);
}

const opening = (id: string): string => `<script type="application/json" id="${id}">`;
const CLOSE = "</script>";

/** The carried files as a script element of an HTML report: the readings as gzip in base64, the others as text. */
export function embeddedRecord(data: RecordData, suffix = ""): Markup {
  const files = carriedFiles(data).filter((file) => file.name !== "result.json");
  const entries = files.map(({ name, text }) => [
    name,
    name === "recording.csv"
      ? { sha256: sha256Hex(text), encoding: "gzip+base64", data: toBase64(gzipSync(encoded(text), { mtime: 0 })) }
      : { sha256: sha256Hex(text), encoding: "text", data: text },
  ]);
  const block = { schema: EMBEDDED_SCHEMA_NAME, files: Object.fromEntries(entries) };
  return markup`<script type="application/json" id="busdip-record${suffix}">${scriptData(block)}</script>`;
}

/** What could be taken out of a report, file by file, and what could not, each with a half-sentence why. */
export interface EmbeddedReading {
  readonly files: ReadonlyMap<CarriedFile["name"], string>;
  readonly damaged: ReadonlyMap<CarriedFile["name"] | "busdip-record", string>;
}

/** Takes the carried files of each record out of an HTML report of several, in order; empty for a report of one. */
export function readEmbeddedHtmls(html: string): readonly EmbeddedReading[] {
  const readings: EmbeddedReading[] = [];
  while (html.includes(opening(`busdip-result-${readings.length + 1}`))) {
    readings.push(readEmbeddedHtml(html, `-${readings.length + 1}`));
  }
  return readings;
}

/** Takes the carried files out of an HTML report. */
export function readEmbeddedHtml(html: string, suffix = ""): EmbeddedReading {
  const files = new Map<CarriedFile["name"], string>();
  const damaged = new Map<CarriedFile["name"] | "busdip-record", string>();
  const result = between(html, opening(`busdip-result${suffix}`));
  if (result === null) damaged.set("result.json", "the report carries no result");
  else {
    try {
      files.set("result.json", resultFileText(JSON.parse(result)));
    } catch {
      damaged.set("result.json", "the carried result is not JSON any more");
    }
  }
  const block = between(html, opening(`busdip-record${suffix}`));
  if (block === null) return { files, damaged: damaged.set("busdip-record", "the report carries no readings") };
  let entries: Record<string, { sha256?: unknown; encoding?: unknown; data?: unknown }>;
  try {
    entries = JSON.parse(block).files;
  } catch {
    return { files, damaged: damaged.set("busdip-record", "the block of carried files is not JSON any more") };
  }
  for (const name of ["recording.csv", "profile.yaml", "marks.csv", "check.yaml", "pictures.json"] as const) {
    const entry = entries?.[name];
    if (entry === undefined) continue;
    const text = entryText(entry);
    if (text === null) damaged.set(name, "it cannot be unpacked");
    else if (sha256Hex(text) !== entry.sha256) {
      damaged.set(name, "its SHA-256 is not the one beside it");
      files.set(name, text);
    } else files.set(name, text);
  }
  return { files, damaged };
}

/** An HTML report with the contents of its data blocks taken out, so that two of them can be compared by their text. */
export function withoutEmbedded(html: string): string {
  const ids = [
    ...html.matchAll(/<script type="application\/json" id="(busdip-(?:result|record|trend|history)(?:-\d+)?)">/g),
  ];
  return ids.reduce((rest, [, id]) => {
    const open = opening(id!);
    const content = between(rest, open);
    return content === null ? rest : rest.replace(open + content, () => open);
  }, html);
}

/** `result.json` as a file. */
function resultFileText(result: unknown): string {
  return `${JSON.stringify(result, null, 2)}\n`;
}

function entryText(entry: { encoding?: unknown; data?: unknown }): string | null {
  if (typeof entry.data !== "string") return null;
  if (entry.encoding === "text") return entry.data;
  if (entry.encoding !== "gzip+base64") return null;
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(gunzipSync(fromBase64(entry.data)));
  } catch {
    return null;
  }
}

function between(html: string, open: string): string | null {
  const from = html.indexOf(open);
  const to = from < 0 ? -1 : html.indexOf(CLOSE, from);
  return to < 0 ? null : html.slice(from + open.length, to);
}

function encoded(text: string): Uint8Array {
  return new TextEncoder().encode(text);
}

const BASE64_PIECE_BYTES = 3 * 8192;

function toBase64(bytes: Uint8Array): string {
  let text = "";
  for (let at = 0; at < bytes.length; at += BASE64_PIECE_BYTES) {
    text += btoa(String.fromCharCode(...bytes.subarray(at, at + BASE64_PIECE_BYTES)));
  }
  return text;
}

/** @throws DOMException where the text is not base64. */
export function fromBase64(text: string): Uint8Array {
  return Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
}
