import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import type { JudgedRecording } from "./analysis-job.js";
import { readReportFonts } from "./report-fonts.js";

/** The files that make up one report, by name. */
export interface ReportFiles {
  readonly files: ReadonlyMap<string, string | Uint8Array>;
  /** Whether the readings were too many to be copied. */
  readonly readingsLeftOut: boolean;
}

/** Everything that `--out` writes: the report, the result, the draft entry, and the readings as they were used. */
export async function reportFiles(judged: JudgedRecording): Promise<ReportFiles> {
  const { renderHtmlRecord } = await import("../report/html.js");
  const { recordInputs } = await import("../report/record-inputs.js");
  const { recordData } = await import("../report/embedded-data.js");
  const { analysis, context, recording } = judged;
  const record = recordData(analysis, context, recordInputs(recording, judged.given));
  const plotlySource = await readPlotlySource();
  const { renderPdfRecord } = await import("../report/pdf.js");
  const fonts = await readReportFonts();
  const files = new Map<string, string | Uint8Array>([
    ["report.html", renderHtmlRecord(analysis, { ...context, plotlySource, record })],
    ["report.pdf", await renderPdfRecord(analysis, { ...context, record, fonts })],
    ["result.json", record.resultText],
  ]);
  const readingsText = record.inputs.recordingFile.text;
  if (readingsText !== null) files.set("recording.csv", readingsText);
  return { files, readingsLeftOut: readingsText === null };
}

/** The plotting library as text, to be set into the report so that it opens without a network. */
export async function readPlotlySource(): Promise<string> {
  return await readFile(createRequire(import.meta.url).resolve("plotly.js-dist-min/plotly.min.js"), "utf8");
}
