import plotlyAddress from "plotly.js-basic-dist-min/plotly-basic.min.js?url";
import { recordData } from "../report/embedded-data.js";
import { renderHtmlRecord } from "../report/html.js";
import { recordInputs } from "../report/record-inputs.js";
import { recordingCsv } from "../report/recording-csv.js";
import type { ResultJson } from "../report/result-schema.js";
import type { Judged } from "./judge-messages.js";

/** The report as one page that opens anywhere with no network. */
export async function reportFile(judged: Judged): Promise<File> {
  const plotlySource = await plotlyText();
  const context = { ...judged.context, plotlySource, record: recordOf(judged) };
  return new File([new Uint8Array(renderHtmlRecord(judged.analysis, context))], `${stemOf(judged)}-report.html`, {
    type: "text/html",
  });
}

/** `result.json`, the same as the command line writes. */
export function resultFile(judged: Judged): File {
  return new File([recordOf(judged).resultText], `${stemOf(judged)}-result.json`, { type: "application/json" });
}

export function resultOf(judged: Judged): ResultJson {
  return recordOf(judged).result;
}

/** The readings as used, in the canonical form. */
export function readingsFile(judged: Judged): File {
  return new File([recordingCsv(judged.recording)], `${stemOf(judged)}-readings.csv`, { type: "text/csv" });
}

function recordOf({ analysis, context, recording, given }: Judged) {
  return recordData(analysis, context, recordInputs(recording, given));
}

/** Letters, digits and hyphens of the log's name, so that every device can keep the file. */
function stemOf({ context }: Judged): string {
  const stem = context.source.replace(/\.[^.]*$/, "").replaceAll(/[^\p{L}\p{N}]+/gu, "-");
  return stem.replaceAll(/^-+|-+$/g, "").slice(0, 60) || "busdip";
}

async function plotlyText(): Promise<string> {
  const answer = await fetch(plotlyAddress);
  if (!answer.ok) throw new Error("the plotting library could not be fetched; open the page once with a network");
  return answer.text();
}

/** The plotting library's script, fetched when the first plot is shown. */
export { plotlyAddress };
