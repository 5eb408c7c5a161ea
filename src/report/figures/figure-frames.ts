import type { Figure, FigureAxis, FigureCell, FigurePanel } from "./figure.js";

/** Width of every static figure in its own units; one unit is one CSS pixel at full width. */
export const FIGURE_WIDTH_PX = 736;

/** The same on a page as narrow as a phone, where cells stand below each other. */
export const NARROW_WIDTH_PX = 328;

export const LEFT_PX = 56;
const RIGHT_PX = 8;
export const TITLE_PX = 20;
const FOOT_PX = 38;
export const PANEL_GAP_PX = 10;
const COLUMN_GAP_PX = 16;

/** Where a panel lies, and how its values become places; y grows downward. */
export interface Frame {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
}

/** Where each cell of a figure lies below a head of the given height, and the height of the whole. */
export function cellPlaces(
  figure: Figure,
  headPx: number,
  narrow = false,
): {
  readonly places: readonly {
    readonly cell: FigureCell;
    readonly left: number;
    readonly top: number;
    readonly width: number;
  }[];
  readonly heightPx: number;
} {
  const columns = narrow ? 1 : Math.max(1, figure.columns);
  const rowHeights = rowsOf(figure.cells, columns).map((row) => Math.max(...row.map(cellHeight)));
  const width = ((narrow ? NARROW_WIDTH_PX : FIGURE_WIDTH_PX) - (columns - 1) * COLUMN_GAP_PX) / columns;
  const above = (row: number) => headPx + rowHeights.slice(0, row).reduce((sum, height) => sum + height, 0);
  const places = figure.cells.map((cell, i) => {
    const top = above(Math.floor(i / columns));
    return { cell, left: (i % columns) * (width + COLUMN_GAP_PX), top, width };
  });
  return { places, heightPx: above(rowHeights.length) };
}

function rowsOf<Item>(items: readonly Item[], columns: number): Item[][] {
  return Array.from({ length: Math.ceil(items.length / columns) }, (_, row) =>
    items.slice(row * columns, (row + 1) * columns),
  );
}

function cellHeight(cell: FigureCell): number {
  const panels = cell.panels.reduce((sum, panel) => sum + panel.heightPx, 0);
  return (cell.title === null ? 6 : TITLE_PX) + panels + (cell.panels.length - 1) * PANEL_GAP_PX + FOOT_PX;
}

/** The frame of one panel of a cell. */
export function frameOf(x: FigureAxis, panel: FigurePanel, left: number, top: number, width: number): Frame {
  const hasOrdinate = panel.y.label !== "";
  const inset = hasOrdinate ? LEFT_PX : 8;
  const frameLeft = left + inset;
  const frameWidth = width - inset - RIGHT_PX;
  return {
    left: frameLeft,
    top,
    width: frameWidth,
    height: panel.heightPx,
    x: (value) => frameLeft + ((value - x.low) / (x.high - x.low || 1)) * frameWidth,
    y: (value) => top + panel.heightPx - ((value - panel.y.low) / (panel.y.high - panel.y.low || 1)) * panel.heightPx,
  };
}
