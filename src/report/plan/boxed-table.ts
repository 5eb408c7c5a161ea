import { LIGHT_PALETTE } from "../figures/svg-style.js";
import { MARGIN_PT, type PdfElement, type PdfFlow, TEXT, type TextStyle } from "../pdf-flow.js";

/** One column of a table to be filled in by hand: words, an empty box, or room to write. */
export interface BoxedColumn<Row> {
  readonly title: string;
  /** Share of the width. */
  readonly share: number;
  readonly cell: "box" | "blank" | ((row: Row, index: number) => string);
  readonly bold?: true;
}

const GAP_PT = 5;
/** Above and below the words of a row; small type stands closer. */
function padPt(style: TextStyle): number {
  return style.sizePt < TEXT.table.sizePt ? 1.1 : 1.9;
}

/** Height of the table on one page, its head included, points. */
export function boxedTableHeightPt<Row>(
  flow: PdfFlow,
  columns: readonly BoxedColumn<Row>[],
  rows: readonly Row[],
  style: TextStyle,
): number {
  const headPt = heightOf(
    flow,
    columns,
    columns.map(({ title }) => title),
    TEXT.head,
  );
  return rows.reduce((sum, row, index) => sum + heightOf(flow, columns, cellsOf(columns, row, index), style), headPt);
}

function cellsOf<Row>(columns: readonly BoxedColumn<Row>[], row: Row, index: number): string[] {
  return columns.map(({ cell }) => (typeof cell === "function" ? cell(row, index) : ""));
}

/** Sets the rows in columns of fixed shares, each row with a rule; the head stands again on every page. */
export function setBoxedTable<Row>(
  flow: PdfFlow,
  columns: readonly BoxedColumn<Row>[],
  rows: readonly Row[],
  style: TextStyle,
): void {
  const table = flow.element("Table");
  const head = columns.map(({ title }) => title);
  setCells(flow, table, columns, head, TEXT.head, "TH");
  rows.forEach((row, index) => {
    const cells = cellsOf(columns, row, index);
    if (flow.y + heightOf(flow, columns, cells, style) > flow.bottomPt) {
      flow.newPage();
      flow.artifact(() => writeAll(flow, columns, head, TEXT.head));
      flow.y += heightOf(flow, columns, head, TEXT.head);
      flow.rule("ink");
    }
    setCells(flow, table, columns, cells, style, "TD");
  });
  table.end();
  flow.space(4);
}

function widthOf<Row>(flow: PdfFlow, { share }: BoxedColumn<Row>): number {
  return share * flow.widthPt - GAP_PT;
}

function styleOf<Row>(column: BoxedColumn<Row>, style: TextStyle): TextStyle {
  return column.bold === true && style !== TEXT.head ? { ...style, face: "bold" } : style;
}

function heightOf<Row>(
  flow: PdfFlow,
  columns: readonly BoxedColumn<Row>[],
  cells: readonly string[],
  style: TextStyle,
): number {
  const heights = cells.map((cell, i) =>
    flow.heightOf(cell || "\u00a0", styleOf(columns[i]!, style), widthOf(flow, columns[i]!)),
  );
  return 2 * padPt(style) + Math.max(...heights, style.sizePt + 3);
}

function setCells<Row>(
  flow: PdfFlow,
  table: PdfElement,
  columns: readonly BoxedColumn<Row>[],
  cells: readonly string[],
  style: TextStyle,
  tag: "TH" | "TD",
): void {
  const heightPt = heightOf(flow, columns, cells, style);
  const row = flow.doc.struct("TR");
  table.add(row);
  let x = MARGIN_PT;
  columns.forEach((column, i) => {
    const left = x;
    const text = cells[i] || (column.cell === "box" && tag === "TD" ? "to tick" : "\u00a0");
    const isBox = column.cell === "box" && tag === "TD";
    const draw = () => {
      if (!isBox) flow.write(text, styleOf(column, style), left, flow.y + padPt(style), widthOf(flow, column));
      else drawBox(flow, left, flow.y + (heightPt - BOX_PT) / 2);
    };
    const scope = tag === "TH" ? ({ scope: "Column" } as const) : {};
    const element = flow.tagged(tag, draw, isBox ? { alt: "box to tick" } : scope);
    row.add(element);
    element.end();
    x += column.share * flow.widthPt;
  });
  row.end();
  flow.y += heightPt;
  flow.rule(tag === "TH" ? "ink" : "grid");
}

function writeAll<Row>(
  flow: PdfFlow,
  columns: readonly BoxedColumn<Row>[],
  cells: readonly string[],
  style: TextStyle,
): void {
  let x = MARGIN_PT;
  columns.forEach((column, i) => {
    flow.write(cells[i]!, style, x, flow.y + padPt(style), widthOf(flow, column));
    x += column.share * flow.widthPt;
  });
}

const BOX_PT = 8;

function drawBox(flow: PdfFlow, x: number, y: number): void {
  flow.doc.lineWidth(0.8).strokeColor(LIGHT_PALETTE.ink!).rect(x, y, BOX_PT, BOX_PT).stroke();
}
