import type { KeyObject } from "node:crypto";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { InputError } from "../importers/input-error.js";
import type { RecordData } from "../report/embedded-data.js";
import type { Paper } from "../report/pdf-flow.js";
import type { ReportContext } from "../report/report-context.js";
import type { JudgedRecording } from "./analysis-job.js";
import { readReportFonts } from "./report-fonts.js";

/** How a record is to be written. */
export interface RecordWriting {
  readonly paper?: Paper;
  readonly signingKey?: KeyObject;
  /** The shop's own form of the draft entry, and where it came from. */
  readonly entryTemplate?: string;
  readonly entryTemplatePath?: string;
}

/** The files that make up one report, by name. */
export interface ReportFiles {
  readonly files: ReadonlyMap<string, string | Uint8Array>;
  /** Whether the readings were too many to be copied. */
  readonly readingsLeftOut: boolean;
}

/**
 * Everything that `--out` writes: the report twice, the result, the draft entry, the readings as they were used, and a
 * signature beside each report where a key was given.
 *
 * @throws InputError where the form of the entry cannot be filled.
 */
export async function reportFiles(judged: JudgedRecording, writing: RecordWriting = {}): Promise<ReportFiles> {
  const { recordInputs } = await import("../report/record-inputs.js");
  const { recordData } = await import("../report/embedded-data.js");
  const { analysis, context, recording } = judged;
  const given = { ...judged.given, entryTemplate: writing.entryTemplate ?? null };
  const entry = await entryText(judged, writing);
  const record = recordData(analysis, context, recordInputs(recording, given));
  const files = new Map<string, string | Uint8Array>([
    ["report.html", await htmlFile(judged, record)],
    ["report.pdf", await pdfFile(judged, record, writing.paper)],
    ["result.json", record.resultText],
    ["entry.txt", entry],
  ]);
  const readingsText = record.inputs.recordingFile.text;
  if (readingsText !== null) files.set("recording.csv", readingsText);
  if (writing.signingKey !== undefined) await addSignatures(files, writing.signingKey);
  return { files, readingsLeftOut: readingsText === null };
}

/** An analysis and the words of its report. */
type Judged = Pick<JudgedRecording, "analysis"> & { readonly context: ReportContext };

/** The HTML report as a file. */
export async function htmlFile({ analysis, context }: Judged, record: RecordData): Promise<Uint8Array> {
  const { renderHtmlRecord } = await import("../report/html.js");
  return renderHtmlRecord(analysis, { ...context, plotlySource: await readPlotlySource(), record });
}

/** The PDF report as a file. */
export async function pdfFile({ analysis, context }: Judged, record: RecordData, paper?: Paper): Promise<Uint8Array> {
  const { renderPdfRecord } = await import("../report/pdf.js");
  const fonts = await readReportFonts();
  return renderPdfRecord(analysis, { ...context, record, fonts, ...(paper === undefined ? {} : { paper }) });
}

/** Adds a signature file beside each report and result among the files. */
export async function addSignatures(files: Map<string, string | Uint8Array>, key: KeyObject): Promise<void> {
  const { signatureFile } = await import("./verify-signature.js");
  for (const [name, content] of [...files]) {
    if (!/^((report|trend)\.(html|pdf)|result\.json)$/.test(name)) continue;
    const bytes = typeof content === "string" ? new TextEncoder().encode(content) : content;
    files.set(`${name}.sig`, signatureFile(bytes, key));
  }
}

async function entryText({ analysis, context }: Judged, writing: RecordWriting): Promise<string> {
  const { maintenanceEntry } = await import("../report/maintenance-entry.js");
  const draft = maintenanceEntry(analysis, context, writing.entryTemplate);
  if (draft.ok) return draft.text;
  throw new InputError({
    ...(writing.entryTemplatePath === undefined ? {} : { file: writing.entryTemplatePath }),
    line: draft.line,
    problem: draft.problem,
    remedy: draft.remedy,
  });
}

/** The plotting library as text, to be set into the report so that it opens without a network. */
export async function readPlotlySource(): Promise<string> {
  return await readFile(createRequire(import.meta.url).resolve("plotly.js-basic-dist-min/plotly-basic.min.js"), "utf8");
}
