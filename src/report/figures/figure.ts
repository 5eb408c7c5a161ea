import type { Verdict } from "../../core/index.js";

/**
 * A figure in the core's terms, before anything decides how to draw it: cells of stacked panels that share an axis of
 * abscissae. The interactive and the static renderer both draw from this one description.
 */
export interface Figure {
  /** Unique on the page; letters, digits and hyphens. */
  readonly id: string;
  readonly title: string;
  readonly caption: string;
  /** What a person who cannot see the figure should know, in full sentences. */
  readonly alt: string;
  readonly key: readonly KeyEntry[];
  readonly cells: readonly FigureCell[];
  /** Cells side by side on a wide page; a narrow one stacks them. */
  readonly columns: number;
  /** The same facts as a table. */
  readonly table: FigureTable;
}

export interface FigureCell {
  /** Direct label above the cell. */
  readonly title: string | null;
  readonly x: FigureAxis;
  readonly panels: readonly FigurePanel[];
}

export interface FigurePanel {
  readonly y: FigureAxis;
  readonly heightPx: number;
  readonly layers: readonly FigureLayer[];
}

export interface FigureAxis {
  /** Quantity and unit, such as `Time (s)`; empty where the axis carries no figures. */
  readonly label: string;
  /** Unit alone, for the reading under the pointer. */
  readonly unit: string;
  readonly low: number;
  readonly high: number;
}

export type LineRole = "reading" | "model" | "drift" | "mean" | "zero" | "bracket";
/** A reading, or the mean of many. */
export type PointRole = "readings" | "means";
export type TickRole = "critical" | "expected";

/** What may be drawn; `null` in a series breaks the line. */
export type FigureLayer =
  | {
      readonly kind: "line";
      readonly role: LineRole;
      readonly x: readonly number[];
      readonly y: readonly (number | null)[];
    }
  | {
      readonly kind: "points";
      readonly role: PointRole;
      readonly x: readonly number[];
      readonly y: readonly (number | null)[];
    }
  | {
      readonly kind: "band";
      readonly x: readonly number[];
      readonly low: readonly number[];
      readonly high: readonly number[];
    }
  | { readonly kind: "span"; readonly fromX: number; readonly toX: number }
  | {
      readonly kind: "interval";
      readonly y: number;
      readonly low: number;
      readonly high: number;
      readonly value: number;
      readonly verdict: Verdict;
    }
  | { readonly kind: "tick"; readonly role: TickRole; readonly x: number; readonly y: number }
  | FigureText;

/** A direct label; `narrowText` stands in for it on a narrow page. */
export interface FigureText {
  readonly kind: "text";
  readonly x: number;
  readonly y: number;
  readonly text: string;
  readonly narrowText: string;
  readonly anchor: "start" | "middle" | "end";
  /** Width that the text may take, in the unit of the abscissae; absent where nothing stands near. */
  readonly roomX?: number;
}

export type KeyEntry = {
  readonly sign: LineRole | TickRole | PointRole | "band" | "span" | Verdict;
  readonly text: string;
};

export interface FigureTable {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}
