import type { Analysis } from "../core/index.js";
import type { RecordData } from "../report/embedded-data.js";
import { renderHtmlRecord } from "../report/html.js";
import type { PdfFonts } from "../report/pdf-flow.js";
import type { ReportContext } from "../report/report-context.js";
import { withoutSeal } from "../report/seal.js";
import type { CheckLine, CheckMeans } from "./verify-line.js";
import { compareHtml } from "./verify-text.js";

/** A result computed again, with all that a report of it says. */
export interface Redrawing {
  readonly analysis: Analysis;
  readonly context: ReportContext;
  readonly record: RecordData;
}

const WHAT = "text and figures";

/** Draws a report again from its result and says where the one at hand differs. */
export async function redrawLines(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  redrawing: Redrawing,
  means: CheckMeans,
): Promise<readonly CheckLine[]> {
  const madeBy = redrawing.context.softwareVersion;
  if (madeBy !== means.softwareVersion) {
    const detail = `made by version ${madeBy}; this is ${means.softwareVersion}, which may draw otherwise`;
    return [{ what: WHAT, state: "not checked", detail }];
  }
  return kind === "html" ? await htmlLines(bytes, redrawing, means) : await pdfLines(bytes, redrawing, means);
}

async function htmlLines(bytes: Uint8Array, redrawing: Redrawing, means: CheckMeans): Promise<readonly CheckLine[]> {
  const { analysis, context, record } = redrawing;
  const due = renderHtmlRecord(analysis, { ...context, plotlySource: await means.plotlySource(), record });
  const plain = (one: Uint8Array) => new TextDecoder().decode(withoutSeal(one, "html"));
  const { differences, sameLibrary } = compareHtml(plain(bytes), plain(due));
  const lines: CheckLine[] = differences.map(({ line, found, due: expected }) => ({
    what: WHAT,
    state: "changed",
    detail: `line ${line} says '${found}', by the data it must say '${expected}'`,
  }));
  if (lines.length === 0) lines.push(ALL_THE_SAME);
  if (!sameLibrary) {
    const detail = "not the one installed here; the still figures were checked, the moving ones were not";
    lines.push({ what: "plotting library", state: "changed", detail });
  }
  return lines;
}

async function pdfLines(bytes: Uint8Array, redrawing: Redrawing, means: CheckMeans): Promise<readonly CheckLine[]> {
  const { analysis, context, record } = redrawing;
  const { renderPdfRecord } = await import("../report/pdf.js");
  const { comparePdf } = await import("../report/pdf-reading.js");
  const paper = /\/MediaBox \[0 0 612 792\]/.test(new TextDecoder("latin1").decode(bytes)) ? "Letter" : "A4";
  const fonts: PdfFonts = await means.fonts();
  const due = await renderPdfRecord(analysis, { ...context, record, fonts, paper });
  const differing = comparePdf(withoutSeal(bytes, "pdf"), withoutSeal(due, "pdf"));
  if (differing.length === 0) return [ALL_THE_SAME];
  return differing.slice(0, 8).map((part) => ({
    what: WHAT,
    state: "changed",
    detail: `${part} is not what the data give`,
  }));
}

const ALL_THE_SAME: CheckLine = { what: WHAT, state: "holds", detail: "drawn again from the result, all the same" };
