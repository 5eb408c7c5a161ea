import type { Verdict } from "../core/index.js";
import { VERDICT_LOOKS } from "./figures/figure-theme.js";
import { LIGHT_PALETTE } from "./figures/svg-style.js";
import { unbrokenFigures } from "./number-format.js";
import { MARGIN_PT, type PdfElement, type PdfFlow, TEXT, type TextStyle } from "./pdf-flow.js";

const GAP_PT = 8;
const ROW_PAD_PT = 2.2;

export interface PdfTable {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
  readonly style?: TextStyle;
}

/** Sets a table with rules below its rows; the head stands again on every page that the table reaches. */
export function setTable(flow: PdfFlow, table: PdfTable): void {
  const style = table.style ?? TEXT.table;
  const widths = columnWidths(flow, table, style);
  const element = flow.element("Table");
  const headHeight = rowHeight(flow, table.head, widths, () => TEXT.head);
  const styleOf = (column: number): TextStyle => (column === 0 ? { ...style, face: "bold" } : style);
  const first = table.rows[0];
  flow.keep(headHeight + (first === undefined ? 0 : rowHeight(flow, first, widths, styleOf)));
  setRow(flow, element, table.head, {
    widths,
    heightPt: headHeight,
    kind: () => ({ tag: "TH", scope: "Column" }),
    styleOf: () => TEXT.head,
    rule: "ink",
  });
  for (const row of table.rows) {
    const heightPt = rowHeight(flow, row, widths, styleOf);
    if (flow.y + heightPt > flow.bottomPt) {
      flow.newPage();
      repeatHead(flow, table.head, widths, headHeight);
    }
    setRow(flow, element, row, {
      widths,
      heightPt,
      kind: (i) => (i === 0 ? { tag: "TH", scope: "Row" } : { tag: "TD" }),
      styleOf,
      rule: "grid",
    });
  }
  element.end();
  flow.space(5);
}

interface RowSetting {
  readonly widths: readonly number[];
  readonly heightPt: number;
  readonly kind: (column: number) => { readonly tag: "TH" | "TD"; readonly scope?: "Row" | "Column" };
  readonly styleOf: (column: number) => TextStyle;
  readonly rule: string;
}

function setRow(flow: PdfFlow, table: PdfElement, cells: readonly string[], setting: RowSetting): void {
  const top = flow.y + ROW_PAD_PT;
  const structure = flow.doc.struct("TR");
  table.add(structure);
  let x = MARGIN_PT;
  cells.forEach((cell, i) => {
    const left = x;
    const widthPt = setting.widths[i]!;
    const { tag, scope } = setting.kind(i);
    const draw = () => flow.write(cell === "" ? "\u00a0" : cell, setting.styleOf(i), left, top, widthPt);
    const element = flow.tagged(tag, draw, scope === undefined ? {} : { scope });
    structure.add(element);
    element.end();
    x += widthPt + GAP_PT;
  });
  structure.end();
  flow.y += setting.heightPt;
  flow.rule(setting.rule);
}

/** The head again on a later page, for the eye only: by ear the table has one head. */
function repeatHead(flow: PdfFlow, head: readonly string[], widths: readonly number[], heightPt: number): void {
  flow.artifact(() => {
    let x = MARGIN_PT;
    head.forEach((cell, i) => {
      flow.write(cell, TEXT.head, x, flow.y + ROW_PAD_PT, widths[i]!);
      x += widths[i]! + GAP_PT;
    });
  });
  flow.y += heightPt;
  flow.rule("ink");
}

function rowHeight(
  flow: PdfFlow,
  cells: readonly string[],
  widths: readonly number[],
  styleOf: (column: number) => TextStyle,
): number {
  return 2 * ROW_PAD_PT + Math.max(...cells.map((cell, i) => flow.heightOf(cell || "\u00a0", styleOf(i), widths[i]!)));
}

/**
 * As wide as each column wants; where all together want too much, the widest give way first, none below its longest
 * word while that can be helped.
 */
function columnWidths(flow: PdfFlow, { head, rows }: PdfTable, style: TextStyle): number[] {
  const room = flow.widthPt - GAP_PT * (head.length - 1);
  const columns = head.map((title, i) => {
    const cellStyle: TextStyle = i === 0 ? { ...style, face: "bold" } : style;
    const widest = (texts: readonly string[], textStyle: TextStyle) =>
      Math.max(0, ...texts.map((text) => flow.widthOf(text, textStyle)));
    const wordsOf = (text: string) => unbrokenFigures(text).split(" ");
    const cells = rows.map((row) => row[i] ?? "");
    const titleWord = widest(wordsOf(title), TEXT.head);
    const wanted = Math.max(titleWord, widest(cells, cellStyle)) + 1;
    const word = widest([...new Set(cells.flatMap(wordsOf))], cellStyle);
    return { wanted, least: Math.min(wanted, Math.max(titleWord, Math.min(room / 3, word)) + 1) };
  });
  const sum = (widths: readonly number[]) => widths.reduce((total, width) => total + width, 0);
  const spare = room - sum(columns.map((column) => column.wanted));
  if (spare >= 0) {
    const share = Math.min(18, spare / Math.max(1, columns.length - 1));
    return columns.map((column, i) => column.wanted + (i < columns.length - 1 ? share : 0));
  }
  const heldTo = (limit: number) => columns.map(({ wanted, least }) => Math.min(wanted, Math.max(least, limit)));
  const cutTo = (limit: number) => columns.map(({ least }) => Math.min(least, limit));
  return sum(cutTo(room)) > room ? fitted(cutTo, room) : fitted(heldTo, room);
}

/** The widths under the highest limit at which they still fit together. */
function fitted(widthsUnder: (limit: number) => number[], room: number): number[] {
  let [low, high] = [0, room];
  for (let i = 0; i < 30; i++) {
    const middle = (low + high) / 2;
    if (widthsUnder(middle).reduce((total, width) => total + width, 0) > room) high = middle;
    else low = middle;
  }
  return widthsUnder(low);
}

/** Draws the sign of a verdict around a point, in points. */
export function drawVerdictSign(flow: PdfFlow, verdict: Verdict, x: number, y: number, scale = 1): void {
  const { colour, sign } = VERDICT_LOOKS[verdict];
  const paint = LIGHT_PALETTE[colour]!;
  const { doc } = flow;
  doc
    .undash()
    .lineWidth(2.4 * scale)
    .strokeColor(paint);
  const r = 5 * scale;
  switch (sign) {
    case "disc":
      doc.circle(x, y, r).fill(paint);
      break;
    case "cross":
      doc
        .moveTo(x - r, y - r)
        .lineTo(x + r, y + r)
        .moveTo(x + r, y - r)
        .lineTo(x - r, y + r)
        .stroke();
      break;
    case "diamond": {
      const d = 6.5 * scale;
      doc.polygon([x, y - d], [x + d, y], [x, y + d], [x - d, y]).fillAndStroke(LIGHT_PALETTE.paper!, paint);
      break;
    }
  }
}
