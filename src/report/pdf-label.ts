import { plainLabel } from "./label-text.js";
import type { PdfFlow, TextStyle } from "./pdf-flow.js";

/** Writes a label of a figure with its foot at `y`, in the figure's own units. */
export function label(
  flow: PdfFlow,
  text: string,
  style: TextStyle,
  x: number,
  y: number,
  anchor: "start" | "middle" | "end",
): void {
  if (text === "") return;
  const widthPx = flow.widthOf(text, style);
  const left = anchor === "start" ? x : anchor === "middle" ? x - widthPx / 2 : x - widthPx;
  flow.line(text, style, left, y - style.sizePt * 0.93);
}

/** The label cut to a width: signs that are written as their numbers take more room than was reckoned. */
export function labelWithin(flow: PdfFlow, text: string, style: TextStyle, roomPx: number): string {
  let shorter = text;
  for (let signs = [...text].length - 1; signs > 0 && flow.widthOf(shorter, style) > roomPx; signs--)
    shorter = plainLabel(text, signs);
  return shorter;
}
