import type { Verdict } from "../../core/index.js";
import type { FigureLayer, LineRole, PointRole, TickRole } from "./figure.js";

/**
 * How each role looks, once for all renderers. Colours are names of the page's custom properties, so that light, dark
 * and print each give their own; line style, width and sign tell the roles apart without any colour.
 */
export interface LineLook {
  readonly colour: string;
  readonly widthPx: number;
  /** Lengths of dash and space in pixels; empty for an unbroken line. */
  readonly dash: string;
}

export const LINES: Record<LineRole, LineLook> = {
  reading: { colour: "reading", widthPx: 0.9, dash: "" },
  model: { colour: "model", widthPx: 2.2, dash: "" },
  drift: { colour: "drift", widthPx: 1.6, dash: "7,4" },
  mean: { colour: "ink", widthPx: 1.3, dash: "" },
  zero: { colour: "soft", widthPx: 0.8, dash: "1,3" },
  bracket: { colour: "soft", widthPx: 1, dash: "" },
};

/** Colours of points. */
export const POINTS: Record<PointRole, string> = { readings: "reading", means: "ink" };

export const TICKS: Record<TickRole, LineLook> = {
  critical: { colour: "ink", widthPx: 1.4, dash: "3,2" },
  expected: { colour: "ink", widthPx: 3, dash: "" },
};

/** Sign of a verdict beside its colour: filled disc, cross, open diamond. */
export const VERDICT_LOOKS: Record<Verdict, { readonly colour: string; readonly sign: "disc" | "cross" | "diamond" }> =
  {
    responded: { colour: "responded", sign: "disc" },
    "no response": { colour: "silent", sign: "cross" },
    undecided: { colour: "undecided", sign: "diamond" },
  };

/** Half the height of a tick and half the span of a band's hatch, in pixels. */
export const TICK_HALF_PX = 9;
export const POINT_RADIUS_PX = 1.7;

/** Layers that carry no figures of their own and are passed over by the pointer. */
export function isDecoration(layer: FigureLayer): boolean {
  return (
    layer.kind === "span" ||
    layer.kind === "text" ||
    (layer.kind === "line" && (layer.role === "zero" || layer.role === "bracket"))
  );
}
