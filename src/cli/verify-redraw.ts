import type { Analysis } from "../core/index.js";
import type { RecordData } from "../report/embedded-data.js";
import { renderHtmlRecord } from "../report/html.js";
import type { Paper, PdfFonts } from "../report/pdf-flow.js";
import type { ReportContext } from "../report/report-context.js";
import { withoutSeal } from "../report/seal.js";
import { type CheckLine, type CheckMeans, isMaker, type Maker } from "./verify-line.js";
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
  return await drawingLines(kind, bytes, [makerOf(redrawing)], means, {
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
  return await drawingLines(kind, bytes, redrawings.map(makerOf), means, {
    html: (plotlySource) => renderSeveralHtml(redrawings, { plotlySource }),
    pdf: async (fonts, paper) => {
      const { renderSeveralPdf } = await import("../report/several-pdf.js");
      return await renderSeveralPdf(redrawings, { fonts, paper });
    },
  });
}

function makerOf({ context, record }: Redrawing): Maker {
  return { version: context.softwareVersion, judgementSha256: record.inputs.judgementSha256 };
}

/** How a report is drawn in either form. */
export interface Drawing {
  readonly html: (plotlySource: string) => Uint8Array;
  readonly pdf: (fonts: PdfFonts, paper: Paper) => Promise<Uint8Array>;
}

/** Holds a document against the one drawn again, where the program at hand made it. */
export async function drawingLines(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  makers: readonly Maker[],
  means: CheckMeans,
  drawing: Drawing,
): Promise<readonly CheckLine[]> {
  if (!makers.every((maker) => isMaker(maker, means))) {
    const detail = "only the program that made the record must draw the same";
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
