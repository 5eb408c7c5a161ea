import PDFDocument from "pdfkit";
import { plainLabel } from "../label-text.js";
import { documentOptions } from "../pdf.js";
import { MARGIN_PT, type Paper, PdfFlow, type PdfFonts, TEXT } from "../pdf-flow.js";

/** What a PDF without attachments is made from. */
export interface PlainPdf {
  readonly kind: string;
  readonly title: string;
  readonly softwareVersion: string;
  /** ISO 8601. */
  readonly madeAt: string;
  readonly fonts: PdfFonts;
  /** A4 unless told otherwise. */
  readonly paper?: Paper;
}

/** One tagged PDF whose content `fill` sets; the same input gives the same bytes. */
export async function plainPdf(context: PlainPdf, fill: (flow: PdfFlow) => void): Promise<Uint8Array> {
  const software = `busdip ${plainLabel(context.softwareVersion)}`;
  const title = `${plainLabel(context.title, 100)}: ${context.kind.toLowerCase()}`;
  const doc = new PDFDocument(documentOptions({ ...context, title, subject: context.kind }));
  const pieces: Uint8Array[] = [];
  const done = new Promise<void>((resolve, reject) => {
    doc.on("data", (piece: Uint8Array) => pieces.push(piece));
    doc.on("error", reject);
    doc.on("end", resolve);
  });
  const flow = new PdfFlow(doc, context.fonts);
  fill(flow);
  flow.end();
  feet(flow, `${context.kind} by ${software}. Advisory: the approved manuals and the licensed person decide.`);
  doc.end();
  await done;
  return joined(pieces);
}

function feet(flow: PdfFlow, text: string): void {
  const { doc } = flow;
  const { start, count } = doc.bufferedPageRange();
  for (let i = 0; i < count; i++) {
    doc.switchToPage(start + i);
    const y = doc.page.height - 40;
    doc.markContent("Artifact", { type: "Pagination" });
    flow.write(text, TEXT.head, MARGIN_PT, y, flow.widthPt - 60);
    flow.write(`page ${i + 1} of ${count}`, TEXT.head, MARGIN_PT + flow.widthPt - 60, y, 60, "right");
    doc.endMarkedContent();
  }
}

function joined(pieces: readonly Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    bytes.set(piece, at);
    at += piece.length;
  }
  return bytes;
}
