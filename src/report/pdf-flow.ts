import type PDFDocument from "pdfkit";
import { LIGHT_PALETTE } from "./figures/svg-style.js";
import {
  type DirectedLine,
  type DirectedRun,
  directedLines,
  laidOutFromRight,
  needsOrdering,
  withoutControls,
} from "./pdf-bidi.js";
import { openFont } from "./pdf-font.js";
import { drawable, type HasGlyph } from "./pdf-text.js";

/** The two faces that everything is set in, as the bytes of font files. */
export interface PdfFonts {
  readonly regular: Uint8Array;
  readonly bold: Uint8Array;
}

export type Paper = "A4" | "Letter";

export type PdfDocument = InstanceType<typeof PDFDocument>;
export type PdfElement = ReturnType<PdfDocument["struct"]>;
/** Beside the usual, what the published types leave out. */
export type ElementOptions = NonNullable<Parameters<PdfDocument["struct"]>[1]> & {
  readonly bbox?: readonly number[];
  readonly scope?: "Row" | "Column";
};
export type Face = "regular" | "bold";

export interface TextStyle {
  readonly face: Face;
  readonly sizePt: number;
  readonly colour: string;
}

export const TEXT: Record<"body" | "lead" | "aside" | "strong" | "table" | "head" | "fine", TextStyle> = {
  body: { face: "regular", sizePt: 9, colour: "ink" },
  lead: { face: "regular", sizePt: 11.5, colour: "ink" },
  strong: { face: "bold", sizePt: 9, colour: "ink" },
  aside: { face: "regular", sizePt: 7.5, colour: "soft" },
  table: { face: "regular", sizePt: 7.5, colour: "ink" },
  head: { face: "regular", sizePt: 7, colour: "soft" },
  fine: { face: "regular", sizePt: 6.5, colour: "ink" },
};

const HEADINGS: Record<"H1" | "H2" | "H3", { readonly sizePt: number; readonly abovePt: number }> = {
  H1: { sizePt: 18, abovePt: 2 },
  H2: { sizePt: 11.5, abovePt: 13 },
  H3: { sizePt: 9.5, abovePt: 8 },
};

export const MARGIN_PT = 48;
const FOOT_PT = 58;
const BULLET_PT = 11;

/** Blocks set one below the other, over as many pages as they need, each with its tag for readers by ear. */
export class PdfFlow {
  readonly hasGlyph: HasGlyph;
  private section: PdfElement;
  /** Lower end of what was set so far. */
  y = MARGIN_PT;

  constructor(
    readonly doc: PdfDocument,
    fonts: PdfFonts,
  ) {
    const regular = openFont(fonts.regular);
    this.hasGlyph = (codePoint) => regular.hasGlyphForCodePoint(codePoint);
    // A font that is open already is taken too, though the published types do not say so.
    doc.registerFont("regular", regular as unknown as string);
    doc.registerFont("bold", openFont(fonts.bold) as unknown as string);
    this.section = doc.struct("Document");
    doc.addStructure(this.section);
  }

  get widthPt(): number {
    return this.doc.page.width - 2 * MARGIN_PT;
  }

  get bottomPt(): number {
    return this.doc.page.height - FOOT_PT;
  }

  /** Begins a new page unless this much still fits on the present one. */
  keep(heightPt: number): void {
    if (this.y + heightPt > this.bottomPt && this.y > MARGIN_PT) this.newPage();
  }

  newPage(): void {
    this.doc.addPage();
    this.y = MARGIN_PT;
  }

  space(heightPt: number): void {
    this.y += heightPt;
  }

  heading(level: "H1" | "H2" | "H3", text: string, keepPt = 40): void {
    const { sizePt, abovePt } = HEADINGS[level];
    const style = { face: "bold", sizePt, colour: "ink" } as const;
    this.keep(abovePt + this.heightOf(text, style, this.widthPt) + keepPt);
    if (this.y > MARGIN_PT) this.y += abovePt;
    this.block(level, text, style);
    this.y += 3;
  }

  /** A paragraph; one longer than the rest of the page goes on over the next. */
  paragraph(text: string, style: TextStyle = TEXT.body, afterPt = 4): void {
    const heightPt = this.heightOf(text, style, this.widthPt);
    if (heightPt < this.bottomPt - MARGIN_PT) {
      this.keep(heightPt);
      this.block("P", text, style);
    } else for (const piece of pieces(text)) this.paragraph(piece, style, 0);
    this.y += afterPt;
  }

  list(items: readonly string[], style: TextStyle = TEXT.body): void {
    const list = this.doc.struct("L");
    this.section.add(list);
    const widthPt = this.widthPt - BULLET_PT;
    for (const text of items.flatMap((item) => (item.length > 1500 ? pieces(item) : [item]))) {
      const heightPt = this.heightOf(text, style, widthPt);
      this.keep(heightPt);
      const item = this.doc.struct("LI");
      list.add(item);
      item.add(this.tagged("Lbl", () => this.write("\u2022", style, MARGIN_PT, this.y, BULLET_PT)));
      const draw = () => this.write(text, style, MARGIN_PT + BULLET_PT, this.y, widthPt);
      item.add(this.tagged("LBody", draw, readingOrder(text)));
      item.end();
      this.y += heightPt + 2;
    }
    list.end();
    this.y += 3;
  }

  /** Text shown line by line as it was written. */
  verbatim(text: string): void {
    for (const line of verbatimLines(text)) this.paragraph(line, TEXT.table, 1);
    this.y += 4;
  }

  /** Height that such a text takes. */
  verbatimHeightPt(text: string): number {
    return verbatimLines(text).reduce((sum, line) => sum + this.heightOf(line, TEXT.table, this.widthPt) + 1, 4);
  }

  /** An element of the document's structure, for tables and figures that draw by themselves. */
  element(tag: string, options: ElementOptions = {}): PdfElement {
    const element = this.doc.struct(tag as Parameters<PdfDocument["struct"]>[0], options);
    this.section.add(element);
    return element;
  }

  tagged(tag: string, draw: () => void, options: ElementOptions = {}): PdfElement {
    return this.doc.struct(tag as Parameters<PdfDocument["struct"]>[0], options, draw);
  }

  /** Lines and grounds that mean nothing to a reader by ear. */
  artifact(draw: () => void): void {
    this.doc.markContent("Artifact", { type: "Layout" });
    draw();
    this.doc.endMarkedContent();
  }

  write(
    text: string,
    style: TextStyle,
    x: number,
    y: number,
    widthPt: number,
    align: "left" | "right" | "center" = "left",
  ): void {
    this.use(style);
    if (!needsOrdering(text)) {
      this.doc.text(drawable(text, this.hasGlyph), x, y, { width: widthPt, align, lineGap: 1 });
      return;
    }
    this.orderedLines(text, widthPt).forEach((line, i) => {
      const spare = widthPt - this.runsWidthPt(line);
      const right = align === "right" || (align === "left" && line.fromRight);
      const indent = right ? spare : align === "center" ? spare / 2 : 0;
      this.drawRuns(line, x + indent, y + i * this.lineHeightPt());
    });
  }

  /** One line of text that is never broken. */
  line(text: string, style: TextStyle, x: number, y: number): void {
    this.use(style);
    if (!needsOrdering(text)) this.doc.text(drawable(text, this.hasGlyph), x, y, { lineBreak: false });
    else for (const line of this.orderedLines(text, Number.POSITIVE_INFINITY)) this.drawRuns(line, x, y);
  }

  heightOf(text: string, style: TextStyle, widthPt: number): number {
    this.use(style);
    if (needsOrdering(text)) return this.orderedLines(text, widthPt).length * this.lineHeightPt();
    return this.doc.heightOfString(drawable(text, this.hasGlyph), { width: widthPt, lineGap: 1 });
  }

  private orderedLines(text: string, widthPt: number): readonly DirectedLine[] {
    const shown = drawable(text, this.hasGlyph, true);
    return directedLines(shown, widthPt, (piece) => this.doc.widthOfString(piece));
  }

  private lineHeightPt(): number {
    return this.doc.currentLineHeight(true) + 1;
  }

  private runsWidthPt({ runs }: DirectedLine): number {
    return runs.reduce((sum, run) => sum + this.doc.widthOfString(run.text, wholeRun(run)), 0);
  }

  private drawRuns({ runs }: DirectedLine, x: number, y: number): void {
    let left = x;
    for (const run of runs) {
      const signs = run.rightToLeft && !laidOutFromRight(run) ? [...run.text].reverse().join("") : run.text;
      this.doc.text(signs, left, y, { lineBreak: false, ...wholeRun(run) });
      left += this.doc.widthOfString(run.text, wholeRun(run));
    }
  }

  widthOf(text: string, style: TextStyle): number {
    this.use(style);
    return this.doc.widthOfString(drawable(text, this.hasGlyph));
  }

  rule(colour: string, widthPt = 0.5): void {
    this.artifact(() => {
      this.doc
        .lineWidth(widthPt)
        .strokeColor(LIGHT_PALETTE[colour]!)
        .moveTo(MARGIN_PT, this.y)
        .lineTo(MARGIN_PT + this.widthPt, this.y)
        .stroke();
    });
  }

  end(): void {
    this.section.end();
  }

  private block(tag: string, text: string, style: TextStyle): void {
    const heightPt = this.heightOf(text, style, this.widthPt);
    const draw = () => this.write(text, style, MARGIN_PT, this.y, this.widthPt);
    const element = this.tagged(tag, draw, readingOrder(text));
    this.section.add(element);
    element.end();
    this.y += heightPt;
  }

  private use({ face, sizePt, colour }: TextStyle): void {
    this.doc.font(face).fontSize(sizePt).fillColor(LIGHT_PALETTE[colour]!);
  }
}

/** The text itself for readers by ear, where it stands on paper in another order than it is read. */
export function readingOrder(text: string): ElementOptions {
  return needsOrdering(text) ? { actual: withoutControls(text) } : {};
}

/** Has the font lay a run out as one piece, so that its words stand in the run's own direction. */
function wholeRun(run: DirectedRun): PDFKit.Mixins.TextOptions {
  return laidOutFromRight(run) ? { features: [] } : {};
}

/** Lines whose leading blanks stay, none of them empty. */
function verbatimLines(text: string): string[] {
  const lines = text.replace(/\r\n?/g, "\n").replace(/\t/g, "  ").trimEnd().split("\n");
  return lines.map((line) => line.replace(/^ +/, (blank) => "\u00a0".repeat(blank.length)) || "\u00a0");
}

/** A long text in pieces that fit on a page, broken at spaces where there are any. */
function pieces(text: string): string[] {
  return text.match(/[\s\S]{1,900}(?:\s|$)|[\s\S]{1,900}/g) ?? [];
}
