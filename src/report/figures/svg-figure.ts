import { axisTicks } from "./axis-ticks.js";
import type { Figure, FigureAxis, FigureCell, FigureLayer, FigurePanel, FigureText } from "./figure.js";
import {
  cellPlaces,
  FIGURE_WIDTH_PX,
  type Frame,
  frameOf,
  LEFT_PX,
  NARROW_WIDTH_PX,
  PANEL_GAP_PX,
  TITLE_PX,
} from "./figure-frames.js";
import { POINT_RADIUS_PX, TICK_HALF_PX, VERDICT_LOOKS } from "./figure-theme.js";
import { figureKeySvg } from "./svg-key.js";
import { signSvg } from "./svg-sign.js";
import { LIGHT_PALETTE, svgStyle } from "./svg-style.js";

/**
 * Draws a figure as one SVG element, with no browser and no script.
 *
 * Inside a page the colours come from the page's custom properties; `standalone` adds a light palette, a key and the
 * XML declaration's namespaces, fit to be a file of its own. `narrow` fits a phone: one column, short labels.
 */
export function svgFigure(
  figure: Figure,
  options: { readonly standalone?: boolean; readonly narrow?: boolean } = {},
): string {
  const { standalone = false, narrow = false } = options;
  const widthPx = narrow ? NARROW_WIDTH_PX : FIGURE_WIDTH_PX;
  const key = standalone ? figureKeySvg(figure.key, widthPx) : { svg: "", heightPx: 0 };
  const headPx = key.heightPx;
  const { places, heightPx } = cellPlaces(figure, headPx, narrow);
  const drawn = places.map(({ cell, left, top, width }, i) =>
    cellSvg(cell, { left, top, width, narrow }, `${figure.id}-${i}`),
  );
  const body = `${hatch(figure.id)}${standalone ? `<rect width="100%" height="100%" fill="${LIGHT_PALETTE.paper}"/>` : ""}${key.svg}${drawn.join("")}`;
  const size = `viewBox="0 0 ${widthPx} ${round(heightPx)}"`;
  return `<svg xmlns="http://www.w3.org/2000/svg" class="figure-svg${narrow ? " narrow" : ""}" ${size} role="img" aria-label="${escapeXml(figure.alt)}"${
    standalone ? ` width="${widthPx}" height="${round(heightPx)}"` : ""
  }>${standalone ? svgStyle() : ""}${body.replaceAll("url(#hatch)", `url(#hatch-${figure.id})`)}</svg>`;
}

interface CellPlace {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly narrow: boolean;
}

function cellSvg(cell: FigureCell, { left, top, width, narrow }: CellPlace, id: string): string {
  const parts: string[] = [];
  let panelTop = top + (cell.title === null ? 6 : TITLE_PX);
  if (cell.title !== null) {
    parts.push(
      `<text class="f-title" x="${round(left + LEFT_PX)}" y="${round(top + 13)}">${escapeXml(cell.title)}</text>`,
    );
  }
  cell.panels.forEach((panel, i) => {
    const frame = frameOf(cell.x, panel, left, panelTop, width);
    parts.push(panelSvg(panel, cell.x, frame, `${id}-${i}`, { lowest: i === cell.panels.length - 1, narrow }));
    panelTop += panel.heightPx + PANEL_GAP_PX;
  });
  return parts.join("");
}

function panelSvg(
  panel: FigurePanel,
  x: FigureAxis,
  frame: Frame,
  id: string,
  { lowest, narrow }: { readonly lowest: boolean; readonly narrow: boolean },
): string {
  const { left, top, width, height } = frame;
  const box = `x="${round(left)}" y="${round(top)}" width="${round(width)}" height="${round(height)}"`;
  const parts = [`<clipPath id="clip-${id}"><rect ${box}/></clipPath>`];
  const bottom = round(top + height);
  for (const tick of axisTicks(x.low, x.high, width / 80)) {
    const at = round(frame.x(tick.at));
    parts.push(`<path class="f-grid" d="M${at} ${round(top)}V${bottom}"/>`);
    if (lowest)
      parts.push(
        `<text class="f-tick" text-anchor="middle" x="${at}" y="${round(top + height + 14)}">${tick.text}</text>`,
      );
  }
  if (panel.y.label !== "") parts.push(ordinate(panel, frame));
  if (lowest) {
    parts.push(
      `<text class="f-axis" text-anchor="middle" x="${round(left + width / 2)}" y="${round(top + height + 30)}">${escapeXml(x.label)}</text>`,
    );
  }
  const clipped = panel.layers.filter((layer) => layer.kind !== "text").map((layer) => layerSvg(layer, frame));
  parts.push(`<g clip-path="url(#clip-${id})">${clipped.join("")}</g>`);
  for (const layer of panel.layers) if (layer.kind === "text") parts.push(textSvg(layer, frame, narrow));
  parts.push(
    `<path class="f-frame" d="M${round(left)} ${panel.y.label === "" ? bottom : round(top)}V${bottom}H${round(left + width)}"/>`,
  );
  return parts.join("");
}

function ordinate(panel: FigurePanel, frame: Frame): string {
  const { left, top, width, height } = frame;
  const parts = axisTicks(panel.y.low, panel.y.high, height / 42).map((tick) => {
    const at = round(frame.y(tick.at));
    return `<path class="f-grid" d="M${round(left)} ${at}H${round(left + width)}"/><text class="f-tick" text-anchor="end" x="${round(left - 6)}" y="${round(frame.y(tick.at) + 4)}">${tick.text}</text>`;
  });
  const x = round(left - 44);
  const y = round(top + height / 2);
  parts.push(
    `<text class="f-axis" text-anchor="middle" transform="rotate(-90 ${x} ${y})" x="${x}" y="${y}">${escapeXml(panel.y.label)}</text>`,
  );
  return parts.join("");
}

function layerSvg(layer: Exclude<FigureLayer, FigureText>, frame: Frame): string {
  switch (layer.kind) {
    case "line":
      return `<path class="f-line f-${layer.role}" d="${linePath(layer.x, layer.y, frame)}"/>`;
    case "points":
      return `<path class="f-points f-${layer.role}" stroke-width="${2 * POINT_RADIUS_PX}" d="${pointPath(layer.x, layer.y, frame)}"/>`;
    case "band": {
      const there = linePath(layer.x, layer.low, frame);
      const back = linePath([...layer.x].reverse(), [...layer.high].reverse(), frame).replace("M", "L");
      return `<path class="f-band" d="${there}${back}Z"/><path class="f-hatch" fill="url(#hatch)" d="${there}${back}Z"/>`;
    }
    case "span": {
      const left = round(frame.x(layer.fromX));
      const width = round(Math.max(1, frame.x(layer.toX) - frame.x(layer.fromX)));
      return `<rect class="f-span" x="${left}" y="${round(frame.top)}" width="${width}" height="${round(frame.height)}"/>`;
    }
    case "interval":
      return intervalSvg(layer, frame);
    case "tick": {
      const x = round(frame.x(layer.x));
      const y = frame.y(layer.y);
      return `<path class="f-line f-${layer.role}" d="M${x} ${round(y - TICK_HALF_PX)}V${round(y + TICK_HALF_PX)}"/>`;
    }
  }
}

function intervalSvg(layer: Extract<FigureLayer, { kind: "interval" }>, frame: Frame): string {
  const { colour, sign } = VERDICT_LOOKS[layer.verdict];
  const y = round(frame.y(layer.y));
  const from = round(frame.x(layer.low));
  const to = round(frame.x(layer.high));
  const x = round(frame.x(layer.value));
  const bar = `<path class="f-bar f-${colour}" d="M${from} ${y}H${to}M${from} ${round(y - 4)}V${round(y + 4)}M${to} ${round(y - 4)}V${round(y + 4)}"/>`;
  return bar + signSvg(sign, colour, x, y);
}

function textSvg(layer: FigureText, frame: Frame, narrow: boolean): string {
  return `<text class="f-label" text-anchor="${layer.anchor}" x="${round(frame.x(layer.x))}" y="${round(frame.y(layer.y) + 4)}">${escapeXml(narrow ? layer.narrowText : layer.text)}</text>`;
}

function linePath(x: readonly number[], y: readonly (number | null)[], frame: Frame): string {
  const parts: string[] = [];
  let pen = "M";
  for (let i = 0; i < x.length; i++) {
    const value = y[i];
    if (value === null || value === undefined || !Number.isFinite(value)) {
      pen = "M";
      continue;
    }
    parts.push(`${pen}${round(frame.x(x[i]!))} ${round(frame.y(value))}`);
    pen = "L";
  }
  return parts.join("");
}

function pointPath(x: readonly number[], y: readonly (number | null)[], frame: Frame): string {
  const parts: string[] = [];
  for (let i = 0; i < x.length; i++) {
    const value = y[i];
    if (value === null || value === undefined) continue;
    parts.push(`M${round(frame.x(x[i]!))} ${round(frame.y(value))}h0`);
  }
  return parts.join("");
}

/** Pattern of slanted lines for uncertainty, one per figure, since ids are unique on a page. */
function hatch(id: string): string {
  return `<defs><pattern id="hatch-${id}" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="f-hatch-line" d="M0 0V5"/></pattern></defs>`;
}

function escapeXml(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

function round(value: number): number {
  return Math.round(value * 10) / 10;
}
