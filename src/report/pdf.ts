import PDFDocument from "pdfkit";
import type { Analysis } from "../core/index.js";
import { carriedFiles, type RecordData } from "./embedded-data.js";
import type { Figure } from "./figures/figure.js";
import { documentTitle, reportFigures } from "./html.js";
import { type NameOf, namesOf, plainLabel } from "./label-text.js";
import { maintenanceEntry } from "./maintenance-entry.js";
import { assumptionText, cautionText, warningText } from "./messages.js";
import { formatChance, formatQuantity } from "./number-format.js";
import { figureHeightPt, setFigure } from "./pdf-figure.js";
import { MARGIN_PT, type Paper, type PdfDocument, PdfFlow, type PdfFonts, TEXT } from "./pdf-flow.js";
import { picturePages } from "./pdf-picture.js";
import { type PdfTable, setTable, tableKeepPt } from "./pdf-table.js";
import { WHOLE_BUS_HEAD, wholeBusHeadline, wholeBusRows, wholeBusSigns } from "./plan/whole-bus-words.js";
import { batteryText, budgetMethodText, depthText, figuresLegend } from "./quantity-words.js";
import type { ReportContext } from "./report-context.js";
import { BLANK_SEAL, SEAL_MARKS, sealed } from "./seal.js";
import { BUDGET_ASIDE, BUDGET_HEAD, budgetCells, budgetTitle } from "./sections/budgets.js";
import { madeAtText, provenanceFacts, readingFacts } from "./sections/notes.js";
import { carriedRows, recordSentences } from "./sections/record.js";
import { batteryTable, dipTable, type NotedTable, verdictTable } from "./sections/tables.js";
import { headline, nextSteps, verdictReasonText } from "./verdict-words.js";

export type { Paper, PdfFonts } from "./pdf-flow.js";

/** The context of a PDF record: beside the usual, what it shall carry, its fonts and its paper. */
export interface PdfContext extends ReportContext {
  readonly record: RecordData;
  readonly fonts: PdfFonts;
  /** A4 unless told otherwise. */
  readonly paper?: Paper;
}

/**
 * The record as one PDF/A-3a file: the answer on the first page, then everything else, figures as vectors, the carried
 * files attached. The same input gives the same bytes.
 *
 * Source: ISO 19005-3 (PDF/A-3), from memory; which of its rules are checked stands in the tests.
 */
export async function renderPdfRecord(analysis: Analysis, context: PdfContext): Promise<Uint8Array> {
  const source = `Recording ${plainLabel(context.source, 120)}, SHA-256 ${context.sha256}`;
  const heading = { ...context, title: `${documentTitle(context)}: voltage-dip record`, subject: source };
  const run = `run ${runNumber(context.record)}, recording SHA-256 ${context.sha256.slice(0, 16)}...`;
  return await sealedPdf(heading, run, (flow) => {
    setRecord(flow, analysis, context);
    return () => attachFiles(flow.doc, context);
  });
}

/** What a document says of itself, and how it is set. */
export interface PdfHeading {
  readonly title: string;
  readonly subject: string;
  readonly softwareVersion: string;
  readonly madeAt: string;
  readonly fonts: PdfFonts;
  readonly paper?: Paper;
}

/** One sealed PDF/A-3a file of what `set` puts into it; what `set` returns attaches the carried files. */
export async function sealedPdf(
  heading: PdfHeading,
  run: string,
  set: (flow: PdfFlow) => () => void,
): Promise<Uint8Array> {
  const doc = new PDFDocument(documentOptions(heading));
  const bytes = collected(doc);
  const flow = new PdfFlow(doc, heading.fonts);
  const attach = set(flow);
  flow.end();
  pageFeet(flow, heading, run);
  attach();
  doc.appendXML(
    `<rdf:Description rdf:about="" xmlns:xmpMM="http://ns.adobe.com/xap/1.0/mm/">${SEAL_MARKS.pdf}${BLANK_SEAL}</xmpMM:DocumentID></rdf:Description>`,
  );
  doc.end();
  return sealed(await bytes, "pdf");
}

/** Everything that a record says, beginning with the answer on the present page. */
export function setRecord(flow: PdfFlow, analysis: Analysis, context: PdfContext): void {
  const nameOf = namesOf(analysis.loads);
  answerPage(flow, analysis, context, nameOf);
  flow.newPage();
  if (context.wholeBus !== undefined && analysis.loads.length > 0) {
    flow.heading("H2", "By the meter");
    meterAnswers(flow, analysis, nameOf);
  }
  figurePages(flow, reportFigures(analysis));
  picturePages(flow, context.record);
  tablePages(flow, analysis, nameOf);
  notePages(flow, analysis, context, nameOf);
  recordPages(flow, analysis, context);
}

/** Options of every PDF of ours: PDF/A-3a, tagged, no built-in font. */
export function documentOptions(context: Omit<PdfHeading, "fonts">): PDFKit.PDFDocumentOptions {
  const software = `busdip ${plainLabel(context.softwareVersion)}`;
  return {
    size: (context.paper ?? "A4") === "A4" ? "A4" : "LETTER",
    margins: { top: 0, left: 0, right: 0, bottom: 0 },
    pdfVersion: "1.7",
    subset: "PDF/A-3a",
    tagged: true,
    lang: "en",
    displayTitle: true,
    bufferPages: true,
    // No built-in font, which would not be embedded.
    font: null as unknown as string,
    info: {
      Title: metadataText(context.title),
      Subject: metadataText(context.subject),
      Creator: software,
      Producer: software,
      CreationDate: new Date(context.madeAt),
    },
  };
}

/** Text that is the same in the information dictionary and, unescaped, in the XML of the metadata. */
function metadataText(text: string): string {
  return text
    .replace(/[<>&\p{Default_Ignorable_Code_Point}]/gu, (sign) => (/[<>&]/.test(sign) ? "_" : ""))
    .slice(0, 300);
}

function collected(doc: PdfDocument): Promise<Uint8Array> {
  return new Promise((resolve, reject) => {
    const pieces: Uint8Array[] = [];
    doc.on("data", (piece: Uint8Array) => pieces.push(piece));
    doc.on("error", reject);
    doc.on("end", () => {
      const bytes = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
      let at = 0;
      for (const piece of pieces) {
        bytes.set(piece, at);
        at += piece.length;
      }
      resolve(bytes);
    });
  });
}

function answerPage(flow: PdfFlow, analysis: Analysis, context: PdfContext, nameOf: NameOf): void {
  flow.rule("ink", 2);
  flow.space(6);
  flow.paragraph("Voltage-dip record", TEXT.aside, 0);
  flow.heading("H1", documentTitle(context));
  const battery = context.profile?.battery?.id;
  const of = battery === undefined ? "" : `Battery ${plainLabel(battery)}. `;
  const made = madeAtText(context.madeAt);
  flow.paragraph(`${of}Recording ${plainLabel(context.source, 120)}, made into this record ${made}.`, TEXT.aside);
  flow.rule("ink");
  flow.heading("H2", "Answer");
  if (context.wholeBus === undefined) meterAnswers(flow, analysis, nameOf);
  else {
    flow.paragraph(wholeBusHeadline(context.wholeBus), TEXT.lead, 6);
    const rows = wholeBusRows(context.wholeBus);
    const style = rows.length > 16 ? TEXT.fine : TEXT.table;
    setTable(flow, {
      head: WHOLE_BUS_HEAD,
      rows,
      style,
      signs: { column: 1, verdicts: wholeBusSigns(context.wholeBus) },
    });
  }
  flow.paragraph(`Battery: ${batteryText(analysis)}`);
  const legend = figuresLegend(analysis);
  if (legend !== "") flow.paragraph(legend, TEXT.aside);
  flow.heading("H3", "What to do next", 15);
  flow.list(nextSteps(analysis, context.wholeBus));
  const doubts = analysis.warnings.length;
  if (doubts > 0) {
    const stand = doubts === 1 ? "One doubt stands" : `${doubts} doubts stand`;
    flow.paragraph(`${stand} about this recording (section Doubts); read before relying on the answer.`, TEXT.aside);
  }
  flow.heading("H2", "Cautions");
  flow.list(analysis.cautions.map(cautionText));
}

/** What the meter told of each load, in words and as a table. */
function meterAnswers(flow: PdfFlow, analysis: Analysis, nameOf: NameOf): void {
  flow.paragraph(headline(analysis), TEXT.lead, 6);
  if (analysis.loads.length === 0) return;
  setTable(flow, {
    head: ["Load", "Verdict", "Depth", "Current", "By noise alone", "Why"],
    rows: analysis.loads.map((load) => [
      nameOf(load.id),
      load.verdict,
      depthText(load),
      load.current === null ? "not identifiable" : formatQuantity(load.current, { form: "compact" }),
      formatChance(load.pValue),
      verdictReasonText(load),
    ]),
    signs: { column: 1, verdicts: analysis.loads.map((load) => load.verdict) },
  });
}

/** All figures, each with its title and caption. */
export function figurePages(flow: PdfFlow, figures: readonly Figure[]): void {
  if (figures.length === 0) return;
  const wholePt = (figure: Figure) =>
    figureHeightPt(flow, figure) + flow.heightOf(figure.caption, TEXT.aside, flow.widthPt) + 20;
  flow.heading("H2", "What was seen", wholePt(figures[0]!) + 30);
  figures.forEach((figure, i) => {
    flow.heading("H3", `Figure ${i + 1}. ${figure.title}`, wholePt(figure));
    setFigure(flow, figure);
    flow.paragraph(figure.caption, TEXT.aside, 8);
  });
}

function tablePages(flow: PdfFlow, analysis: Analysis, nameOf: NameOf): void {
  notedTable(flow, "Verdicts", verdictTable(analysis, nameOf));
  notedTable(flow, "Dips", dipTable(analysis, nameOf));
  notedTable(flow, "Battery", batteryTable(analysis));
  if (analysis.budgets.length === 0) return;
  const tables = analysis.budgets.map((budget) => ({
    head: BUDGET_HEAD,
    rows: budget.rows.map((row) => budgetCells(row, budget)),
  }));
  flow.heading("H2", "Uncertainty budgets", tableKeepPt(flow, tables[0]!) + 70);
  flow.paragraph(BUDGET_ASIDE, TEXT.aside);
  analysis.budgets.forEach((budget, i) => {
    const table = tables[i]!;
    const { name, value } = budgetTitle(budget, nameOf);
    flow.heading("H3", `${name}: ${value}`, tableKeepPt(flow, table) + 16);
    setTable(flow, table);
    flow.paragraph(budgetMethodText(budget.method), TEXT.aside);
  });
}

function notedTable(flow: PdfFlow, heading: string, table: NotedTable | null): void {
  if (table === null) return;
  headedTable(flow, heading, table);
  for (const aside of table.asides) flow.paragraph(aside, TEXT.aside);
}

/** A table with its heading; a short one stays together on one page. */
export function headedTable(flow: PdfFlow, heading: string, table: PdfTable): void {
  flow.heading("H2", heading, tableKeepPt(flow, table));
  setTable(flow, table);
}

function notePages(flow: PdfFlow, analysis: Analysis, context: PdfContext, nameOf: NameOf): void {
  flow.heading("H2", "Doubts");
  if (analysis.warnings.length === 0) flow.paragraph("None.");
  else flow.list(analysis.warnings.map((warning) => warningText(warning, nameOf)));
  flow.heading("H2", "Assumptions");
  if (analysis.assumptions.length === 0) flow.paragraph("None beyond the model of a dip.");
  else flow.list(analysis.assumptions.map((note) => assumptionText(note, nameOf)));
  headedTable(flow, "Readings", { head: ["Fact", "Value"], rows: readingFacts(analysis) });
  if (context.understood.length > 0) {
    flow.heading("H3", "How the file was understood");
    flow.list(context.understood.map((sentence) => plainLabel(sentence, 400)));
  }
}

function recordPages(flow: PdfFlow, analysis: Analysis, context: PdfContext): void {
  headedTable(flow, "Provenance", { head: ["Fact", "Value"], rows: provenanceFacts(analysis, context) });
  if (context.profileText !== undefined) {
    flow.heading("H3", "Profile as given");
    flow.verbatim(context.profileText);
  }
  const draft = maintenanceEntry(analysis, context, context.record.inputs.entryTemplate ?? undefined);
  const text = draft.ok ? draft.text : draft.problem;
  flow.heading("H2", "Draft entry", Math.min(flow.verbatimHeightPt(text), 0.8 * flow.doc.page.height));
  flow.verbatim(text);
  headedTable(flow, "This record", {
    head: ["Carried in this file", "What", "Bytes", "SHA-256"],
    rows: carriedRows(context.record),
    style: TEXT.fine,
  });
  for (const sentence of recordSentences(context.record)) flow.paragraph(sentence, TEXT.aside);
}

/** Run, software and page number at the foot of every page. */
function pageFeet(flow: PdfFlow, { softwareVersion }: PdfHeading, run: string): void {
  const { doc } = flow;
  const { start, count } = doc.bufferedPageRange();
  for (let i = 0; i < count; i++) {
    doc.switchToPage(start + i);
    const y = doc.page.height - 40;
    const widthPt = flow.widthPt;
    doc.markContent("Artifact", { type: "Pagination" });
    flow.write(`busdip ${plainLabel(softwareVersion)}, ${run}`, TEXT.head, MARGIN_PT, y, widthPt - 60);
    flow.write("Advisory: the approved manuals and the licensed person decide.", TEXT.head, MARGIN_PT, y + 10, widthPt);
    flow.write(`page ${i + 1} of ${count}`, TEXT.head, MARGIN_PT + widthPt - 60, y, 60, "right");
    doc.endMarkedContent();
  }
}

/** A short name of this run of the program: the beginning of its result's seal. */
export function runNumber(record: RecordData): string {
  return (record.result.seal ?? "").slice(0, 12);
}

/** A file to be carried in a PDF. */
export interface Attachment {
  readonly name: string;
  readonly mediaType: string;
  readonly about: string;
  readonly relationship: "Source" | "Data" | "Supplement";
  readonly text: string;
}

/** Attaches the files of a record, their names behind the prefix. */
export function attachFiles(doc: PdfDocument, context: PdfContext, prefix = ""): void {
  for (const file of carriedFiles(context.record)) {
    const relationship = file.name === "recording.csv" ? "Source" : file.name === "result.json" ? "Data" : "Supplement";
    attach(doc, { ...file, name: `${prefix}${file.name}`, relationship }, context.madeAt);
  }
}

/** Attaches one file, dated with the moment of making. */
export function attach(doc: PdfDocument, file: Attachment, madeAt: string): void {
  const modifiedDate = new Date(madeAt);
  doc.file(
    new TextEncoder().encode(file.text) as unknown as Buffer,
    {
      name: file.name,
      type: file.mediaType,
      description: file.about,
      relationship: file.relationship,
      creationDate: modifiedDate,
      modifiedDate,
    } as PDFKit.Mixins.PDFAttachmentOptions,
  );
}
