import type { Analysis } from "../core/index.js";
import type { RecordData } from "../report/embedded-data.js";
import { renderHtmlRecord } from "../report/html.js";
import type { Paper, PdfFonts } from "../report/pdf-flow.js";
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
  const { analysis, context, record } = redrawing;
  return await drawingLines(kind, bytes, [context.softwareVersion], means, {
    html: (plotlySource) => renderHtmlRecord(analysis, { ...context, plotlySource, record }),
    pdf: async (fonts, paper) => {
      const { renderPdfRecord } = await import("../report/pdf.js");
      return await renderPdfRecord(analysis, { ...context, record, fonts, paper });
    },
  });
}

/** Draws a report of several records again, as `redrawLines` does one of a single record. */
export async function redrawSeveral(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  redrawings: readonly Redrawing[],
  means: CheckMeans,
): Promise<readonly CheckLine[]> {
  const { renderSeveralHtml } = await import("../report/several-html.js");
  const versions = redrawings.map(({ context }) => context.softwareVersion);
  return await drawingLines(kind, bytes, versions, means, {
    html: (plotlySource) => renderSeveralHtml(redrawings, { plotlySource }),
    pdf: async (fonts, paper) => {
      const { renderSeveralPdf } = await import("../report/several-pdf.js");
      return await renderSeveralPdf(redrawings, { fonts, paper });
    },
  });
}

/** How a report is drawn in either form. */
export interface Drawing {
  readonly html: (plotlySource: string) => Uint8Array;
  readonly pdf: (fonts: PdfFonts, paper: Paper) => Promise<Uint8Array>;
}

/** Holds a document against the one drawn again, where its version is the one at hand. */
export async function drawingLines(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  versions: readonly string[],
  means: CheckMeans,
  drawing: Drawing,
): Promise<readonly CheckLine[]> {
  const other = versions.find((version) => version !== means.softwareVersion);
  if (other !== undefined) {
    const detail = `made by version ${other}; this is ${means.softwareVersion}, which may draw otherwise`;
    return [{ what: WHAT, state: "not checked", detail }];
  }
  if (kind === "html") return htmlLines(bytes, drawing.html(await means.plotlySource()));
  const paper = /\/MediaBox \[0 0 612 792\]/.test(new TextDecoder("latin1").decode(bytes)) ? "Letter" : "A4";
  return await pdfLines(bytes, await drawing.pdf(await means.fonts(), paper));
}

function htmlLines(bytes: Uint8Array, due: Uint8Array): readonly CheckLine[] {
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

async function pdfLines(bytes: Uint8Array, due: Uint8Array): Promise<readonly CheckLine[]> {
  const { comparePdf } = await import("../report/pdf-reading.js");
  const differing = comparePdf(withoutSeal(bytes, "pdf"), withoutSeal(due, "pdf"));
  if (differing.length === 0) return [ALL_THE_SAME];
  return differing.slice(0, 8).map((part) => ({
    what: WHAT,
    state: "changed",
    detail: `${part} is not what the data give`,
  }));
}

const ALL_THE_SAME: CheckLine = { what: WHAT, state: "holds", detail: "drawn again from the result, all the same" };
