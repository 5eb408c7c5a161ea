import type { Verdict } from "../core/index.js";
import { VERDICT_LOOKS } from "./figures/figure-theme.js";
import { LIGHT_PALETTE } from "./figures/svg-style.js";
import { unbrokenFigures } from "./number-format.js";
import { MARGIN_PT, type PdfElement, type PdfFlow, readingOrder, TEXT, type TextStyle } from "./pdf-flow.js";

const GAP_PT = 8;
const ROW_PAD_PT = 2.2;

export interface PdfTable {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
  readonly style?: TextStyle;
  /** Verdicts whose signs stand before the words of one column, one for each row. */
  readonly signs?: { readonly column: number; readonly verdicts: readonly Verdict[] };
}

/** The part of a page up to which a table is kept together on one. */
const KEPT_TOGETHER = 0.45;
/** Room that a sign takes before the words. */
const SIGN_PT = 12;

/** Sets a table with rules below its rows; the head stands again on every page that the table reaches. */
export function setTable(flow: PdfFlow, table: PdfTable): void {
  const style = table.style ?? TEXT.table;
  const widths = columnWidths(flow, table, style);
  const element = flow.element("Table");
  const headHeight = rowHeight(flow, table.head, widths, () => TEXT.head);
  const { signs } = table;
  const styleOf = (column: number): TextStyle =>
    column === 0 || column === signs?.column ? { ...style, face: "bold" } : style;
  const first = table.rows[0];
  flow.keep(headHeight + (first === undefined ? 0 : rowHeight(flow, first, widths, styleOf)));
  setRow(flow, element, table.head, {
    widths,
    heightPt: headHeight,
    kind: () => ({ tag: "TH", scope: "Column" }),
    styleOf: () => TEXT.head,
    rule: "ink",
  });
  table.rows.forEach((row, number) => {
    const sign = signs?.verdicts[number];
    const heightPt = rowHeight(flow, row, widths, styleOf, signs?.column);
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
      ...(signs === undefined ? {} : { signColumn: signs.column }),
      ...(sign === undefined ? {} : { sign }),
    });
  });
  element.end();
  flow.space(5);
}

/** Height that a heading above a table must find below itself: of a short table all of it, of a long one its beginning. */
export function tableKeepPt(flow: PdfFlow, table: PdfTable): number {
  const style = table.style ?? TEXT.table;
  const widths = columnWidths(flow, table, style);
  const rows = table.rows.reduce((sum, row) => sum + rowHeight(flow, row, widths, () => style), 0);
  const heightPt = rowHeight(flow, table.head, widths, () => TEXT.head) + rows + 5;
  return heightPt <= KEPT_TOGETHER * flow.doc.page.height ? heightPt : 60;
}

interface RowSetting {
  readonly widths: readonly number[];
  readonly heightPt: number;
  readonly kind: (column: number) => { readonly tag: "TH" | "TD"; readonly scope?: "Row" | "Column" };
  readonly styleOf: (column: number) => TextStyle;
  readonly rule: string;
  /** Column that leaves room before its words, and the sign to draw there. */
  readonly signColumn?: number;
  readonly sign?: Verdict;
}

function setRow(flow: PdfFlow, table: PdfElement, cells: readonly string[], setting: RowSetting): void {
  const top = flow.y + ROW_PAD_PT;
  const structure = flow.doc.struct("TR");
  table.add(structure);
  let x = MARGIN_PT;
  let signX = x;
  cells.forEach((cell, i) => {
    const indentPt = i === setting.signColumn ? SIGN_PT : 0;
    if (indentPt > 0) signX = x + 4;
    const left = x + indentPt;
    const widthPt = setting.widths[i]! - indentPt;
    const { tag, scope } = setting.kind(i);
    const draw = () => flow.write(cell === "" ? "\u00a0" : cell, setting.styleOf(i), left, top, widthPt);
    const element = flow.tagged(tag, draw, { ...readingOrder(cell), ...(scope === undefined ? {} : { scope }) });
    structure.add(element);
    element.end();
    x = left + widthPt + GAP_PT;
  });
  structure.end();
  const { sign } = setting;
  if (sign !== undefined) flow.artifact(() => drawVerdictSign(flow, sign, signX, top + 4.6, 0.62));
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
  signColumn?: number,
): number {
  const heights = cells.map((cell, i) => {
    const indentPt = i === signColumn ? SIGN_PT : 0;
    return flow.heightOf(cell || "\u00a0", styleOf(i), widths[i]! - indentPt);
  });
  return 2 * ROW_PAD_PT + Math.max(...heights);
}

/**
 * As wide as each column wants; where all together want too much, the widest give way first, none below its longest
 * word while that can be helped.
 */
function columnWidths(flow: PdfFlow, { head, rows, signs }: PdfTable, style: TextStyle): number[] {
  const indented = (i: number): number => (i === signs?.column ? SIGN_PT : 0);
  const room = flow.widthPt - GAP_PT * (head.length - 1);
  const columns = head.map((title, i) => {
    const cellStyle: TextStyle = i === 0 || i === signs?.column ? { ...style, face: "bold" } : style;
    const widest = (texts: readonly string[], textStyle: TextStyle) =>
      Math.max(0, ...texts.map((text) => flow.widthOf(text, textStyle)));
    const wordsOf = (text: string) => unbrokenFigures(text).split(" ");
    const cells = rows.map((row) => row[i] ?? "");
    const titleWord = widest(wordsOf(title), TEXT.head);
    const wanted = Math.max(titleWord, widest(cells, cellStyle)) + 1 + indented(i);
    const word = widest([...new Set(cells.flatMap(wordsOf))], cellStyle) + indented(i);
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
