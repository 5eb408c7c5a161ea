import { axisTicks } from "./figures/axis-ticks.js";
import type { Figure, FigureCell, FigureLayer, FigurePanel, KeyEntry } from "./figures/figure.js";
import {
  cellPlaces,
  FIGURE_WIDTH_PX,
  type Frame,
  frameOf,
  LEFT_PX,
  PANEL_GAP_PX,
  TITLE_PX,
} from "./figures/figure-frames.js";
import { LINES, type LineLook, POINT_RADIUS_PX, POINTS, TICK_HALF_PX, TICKS } from "./figures/figure-theme.js";
import { LIGHT_PALETTE } from "./figures/svg-style.js";
import { MARGIN_PT, type PdfFlow, type TextStyle } from "./pdf-flow.js";
import { label, labelWithin } from "./pdf-label.js";
import { drawVerdictSign } from "./pdf-table.js";

const LABEL: TextStyle = { face: "regular", sizePt: 11, colour: "ink" };
const TITLE: TextStyle = { face: "bold", sizePt: 11, colour: "ink" };
const TICK: TextStyle = { face: "regular", sizePt: 10.5, colour: "soft" };
const KEY_ROW_PX = 20;
const KEY_GAP_PX = 18;
const SWATCH_PX = 30;

/** Draws a figure with its key as vectors across the page, tagged with its alternative text. */
export function setFigure(flow: PdfFlow, figure: Figure): void {
  const scale = flow.widthPt / FIGURE_WIDTH_PX;
  const key = keyPlaces(flow, figure.key);
  const { places, heightPx } = cellPlaces(figure, key.heightPx);
  flow.keep(heightPx * scale);
  const element = flow.element("Figure", {
    alt: figure.alt,
    bbox: [MARGIN_PT, flow.y, MARGIN_PT + flow.widthPt, flow.y + heightPx * scale],
  });
  element.add(() => {
    const { doc } = flow;
    doc.save();
    doc.translate(MARGIN_PT, flow.y).scale(scale);
    for (const { entry, x, y } of key.places) {
      drawSwatch(flow, entry.sign, x, y);
      label(flow, entry.text, TICK, x + SWATCH_PX + 6, y + 12, "start");
    }
    for (const { cell, left, top, width } of places) drawCell(flow, cell, left, top, width);
    doc.restore();
  });
  element.end();
  flow.y += heightPx * scale + 3;
}

/** Height that a figure takes on the page, in points. */
export function figureHeightPt(flow: PdfFlow, figure: Figure): number {
  return cellPlaces(figure, keyPlaces(flow, figure.key).heightPx).heightPx * (flow.widthPt / FIGURE_WIDTH_PX);
}

function keyPlaces(flow: PdfFlow, key: readonly KeyEntry[]) {
  let x = 0;
  let row = 0;
  const places = key.map((entry) => {
    const widthPx = SWATCH_PX + 6 + flow.widthOf(entry.text, TICK);
    if (x > 0 && x + widthPx > FIGURE_WIDTH_PX) {
      x = 0;
      row++;
    }
    const place = { entry, x, y: row * KEY_ROW_PX };
    x += widthPx + KEY_GAP_PX;
    return place;
  });
  return { places, heightPx: (row + 1) * KEY_ROW_PX + 4 };
}

function drawCell(flow: PdfFlow, cell: FigureCell, left: number, top: number, width: number): void {
  let panelTop = top + (cell.title === null ? 6 : TITLE_PX);
  if (cell.title !== null) label(flow, cell.title, TITLE, left + LEFT_PX, top + 13, "start");
  cell.panels.forEach((panel, i) => {
    const frame = frameOf(cell.x, panel, left, panelTop, width);
    drawPanel(flow, panel, cell, frame, i === cell.panels.length - 1);
    panelTop += panel.heightPx + PANEL_GAP_PX;
  });
}

function drawPanel(flow: PdfFlow, panel: FigurePanel, { x }: FigureCell, frame: Frame, lowest: boolean): void {
  const { doc } = flow;
  const { left, top, width, height } = frame;
  const bottom = top + height;
  pen(flow, { colour: "grid", widthPx: 1, dash: "" });
  for (const tick of axisTicks(x.low, x.high, width / 80)) {
    const at = frame.x(tick.at);
    pen(flow, { colour: "grid", widthPx: 1, dash: "" });
    doc.moveTo(at, top).lineTo(at, bottom).stroke();
    if (lowest) label(flow, tick.text, TICK, at, bottom + 14, "middle");
  }
  if (panel.y.label !== "") {
    for (const tick of axisTicks(panel.y.low, panel.y.high, height / 42)) {
      const at = frame.y(tick.at);
      pen(flow, { colour: "grid", widthPx: 1, dash: "" });
      doc
        .moveTo(left, at)
        .lineTo(left + width, at)
        .stroke();
      label(flow, tick.text, TICK, left - 6, at + 4, "end");
    }
    doc.save();
    doc.rotate(-90, { origin: [left - 44, top + height / 2] });
    label(flow, panel.y.label, TICK, left - 44, top + height / 2, "middle");
    doc.restore();
  }
  if (lowest) label(flow, x.label, TICK, left + width / 2, bottom + 30, "middle");
  doc.save();
  doc.rect(left, top, width, height).clip();
  for (const layer of panel.layers) if (layer.kind !== "text") drawLayer(flow, layer, frame);
  doc.restore();
  for (const layer of panel.layers) {
    if (layer.kind !== "text") continue;
    const roomPx = layer.roomX === undefined ? Number.POSITIVE_INFINITY : frame.x(layer.roomX) - frame.x(0);
    const text = labelWithin(flow, layer.text, LABEL, roomPx);
    label(flow, text, LABEL, frame.x(layer.x), frame.y(layer.y) + 4, layer.anchor);
  }
  pen(flow, { colour: "soft", widthPx: 1, dash: "" });
  doc
    .moveTo(left, panel.y.label === "" ? bottom : top)
    .lineTo(left, bottom)
    .lineTo(left + width, bottom)
    .stroke();
}

function drawLayer(flow: PdfFlow, layer: Exclude<FigureLayer, { kind: "text" }>, frame: Frame): void {
  const { doc } = flow;
  switch (layer.kind) {
    case "line":
      pen(flow, LINES[layer.role]);
      if (trace(flow, layer.x, layer.y, frame)) doc.stroke();
      break;
    case "points":
      dots(
        flow,
        layer.x.flatMap((x, i) => {
          const value = layer.y[i];
          return value === null || value === undefined ? [] : [[frame.x(x), frame.y(value)] as const];
        }),
        POINTS[layer.role],
      );
      break;
    case "band":
      drawBand(flow, layer, frame);
      break;
    case "span": {
      const from = frame.x(layer.fromX);
      doc.rect(from, frame.top, Math.max(1, frame.x(layer.toX) - from), frame.height).fill(LIGHT_PALETTE.span!);
      break;
    }
    case "interval": {
      const y = frame.y(layer.y);
      const [from, to] = [frame.x(layer.low), frame.x(layer.high)];
      pen(flow, { colour: VERDICT_COLOURS[layer.verdict], widthPx: 2, dash: "" });
      doc.moveTo(from, y).lineTo(to, y);
      for (const end of [from, to]) doc.moveTo(end, y - 4).lineTo(end, y + 4);
      doc.stroke();
      drawVerdictSign(flow, layer.verdict, frame.x(layer.value), y);
      break;
    }
    case "tick": {
      const at = frame.x(layer.x);
      const y = frame.y(layer.y);
      pen(flow, TICKS[layer.role]);
      doc
        .moveTo(at, y - TICK_HALF_PX)
        .lineTo(at, y + TICK_HALF_PX)
        .stroke();
      break;
    }
  }
}

const VERDICT_COLOURS = { responded: "responded", "no response": "silent", undecided: "undecided" } as const;

/** An uncertainty band: a light ground under slanted lines, so that it shows in black and white too. */
function drawBand(flow: PdfFlow, band: Extract<FigureLayer, { kind: "band" }>, frame: Frame): void {
  if (band.x.length < 2) return;
  const { doc } = flow;
  const outline = () => {
    trace(flow, band.x, band.low, frame);
    for (let i = band.x.length - 1; i >= 0; i--) doc.lineTo(frame.x(band.x[i]!), frame.y(band.high[i]!));
    doc.closePath();
  };
  outline();
  doc.fill(LIGHT_PALETTE.band!);
  doc.save();
  outline();
  doc.clip();
  pen(flow, { colour: "soft", widthPx: 0.5, dash: "" });
  for (let x = frame.left - frame.height; x < frame.left + frame.width; x += 7) {
    doc.moveTo(x, frame.top + frame.height).lineTo(x + frame.height, frame.top);
  }
  doc.stroke();
  doc.restore();
}

/** Lays the path of a series, broken where it has no value; false where there is nothing to draw. */
function trace(flow: PdfFlow, x: readonly number[], y: readonly (number | null)[], frame: Frame): boolean {
  let down = false;
  let any = false;
  for (let i = 0; i < x.length; i++) {
    const value = y[i];
    if (value === null || value === undefined || !Number.isFinite(value)) {
      down = false;
      continue;
    }
    const [atX, atY] = [tenth(frame.x(x[i]!)), tenth(frame.y(value))];
    if (down) flow.doc.lineTo(atX, atY);
    else flow.doc.moveTo(atX, atY);
    any ||= down;
    down = true;
  }
  return any;
}

function drawSwatch(flow: PdfFlow, sign: KeyEntry["sign"], x: number, y: number): void {
  const { doc } = flow;
  switch (sign) {
    case "readings":
    case "means":
      dots(
        flow,
        [
          [x + 4, y + 10],
          [x + 11, y + 5],
          [x + 19, y + 11],
          [x + 26, y + 6],
        ],
        POINTS[sign],
      );
      break;
    case "band":
      doc.rect(x + 2, y + 3, 26, 10).fill(LIGHT_PALETTE.band!);
      pen(flow, LINES.bracket);
      for (const dy of [3, 13]) doc.moveTo(x + 2, y + dy).lineTo(x + 28, y + dy);
      for (const dx of [5, 13, 21]) doc.moveTo(x + dx, y + 13).lineTo(x + dx + 7, y + 3);
      doc.stroke();
      break;
    case "span":
      doc.rect(x + 2, y + 1, 26, 14).fill(LIGHT_PALETTE.span!);
      break;
    case "critical":
    case "expected":
      pen(flow, TICKS[sign]);
      doc
        .moveTo(x + 15, y + 1)
        .lineTo(x + 15, y + 15)
        .stroke();
      break;
    case "responded":
    case "no response":
    case "undecided":
      drawVerdictSign(flow, sign, x + 15, y + 8);
      break;
    default:
      pen(flow, LINES[sign]);
      doc
        .moveTo(x + 2, y + 8)
        .lineTo(x + 28, y + 8)
        .stroke();
  }
}

/** Points as short strokes with round ends, which take a tenth of the room of circles. */
function dots(flow: PdfFlow, points: readonly (readonly [number, number])[], colour: string): void {
  const { doc } = flow;
  pen(flow, { colour, widthPx: 2 * POINT_RADIUS_PX, dash: "" });
  doc.lineCap("round");
  for (const [x, y] of points) doc.moveTo(tenth(x), tenth(y)).lineTo(tenth(x + 0.1), tenth(y));
  if (points.length > 0) doc.stroke();
}

function pen(flow: PdfFlow, look: LineLook): void {
  const { doc } = flow;
  doc.lineWidth(look.widthPx).strokeColor(LIGHT_PALETTE[look.colour]!).lineJoin("round").lineCap("butt");
  if (look.dash === "") doc.undash();
  else {
    const [on, off] = look.dash.split(",").map(Number) as [number, number];
    doc.dash(on, { space: off });
  }
}

function tenth(value: number): number {
  return Math.round(value * 10) / 10;
}
