import type { Figure, FigureAxis, FigureCell, FigureLayer, FigurePanel, FigureText } from "./figure.js";
import { isDecoration, LINES, POINT_RADIUS_PX, POINTS, TICK_HALF_PX, TICKS, VERDICT_LOOKS } from "./figure-theme.js";

type Json = Record<string, unknown>;

/** Data for the plotting library with the layouts of a wide and a narrow page; colours are names, `@ink`. */
export interface PlotlyFigure {
  readonly data: readonly Json[];
  readonly wide: Json;
  readonly narrow: Json;
}

const MARGIN_PX = { left: 58, right: 10, top: 26, bottom: 42 };
const BARE_LEFT_PX = 10;
const PANEL_GAP_PX = 10;
const CELL_GAP_PX = 66;
const COLUMN_GAP = 0.09;

interface Placed {
  readonly cell: FigureCell;
  readonly panel: FigurePanel;
  /** Number of the axes of this panel, from 1. */
  readonly axis: number;
  readonly cellIndex: number;
  readonly panelIndex: number;
}

/** Translates a figure for the interactive plotting library. */
export function plotlyFigure(figure: Figure): PlotlyFigure {
  const placed = figure.cells.flatMap((cell, cellIndex) =>
    cell.panels.map((panel, panelIndex) => ({ cell, panel, cellIndex, panelIndex })),
  );
  const numbered: Placed[] = placed.map((one, i) => ({ ...one, axis: i + 1 }));
  return {
    data: numbered.flatMap((one) => one.panel.layers.flatMap((layer) => traces(layer, one))),
    wide: layout(figure, numbered, Math.max(1, figure.columns), false),
    narrow: layout(figure, numbered, 1, true),
  };
}

function traces(layer: FigureLayer, { axis, panel, cell }: Placed): Json[] {
  const axes = { xaxis: axisName("x", axis), yaxis: axisName("y", axis), type: "scatter", showlegend: false };
  const hover = isDecoration(layer)
    ? { hoverinfo: "skip" }
    : { hovertemplate: `%{x} ${cell.x.unit}, %{y} ${panel.y.unit}<extra></extra>` };
  switch (layer.kind) {
    case "line": {
      const look = LINES[layer.role];
      return [{ ...axes, ...hover, mode: "lines", x: layer.x, y: layer.y, line: lineOf(look) }];
    }
    case "points":
      return [
        {
          ...axes,
          ...hover,
          mode: "markers",
          x: layer.x,
          y: layer.y,
          marker: { color: `@${POINTS[layer.role]}`, size: 2 * POINT_RADIUS_PX },
        },
      ];
    case "band":
      return [
        {
          ...axes,
          hoverinfo: "skip",
          mode: "lines",
          x: [...layer.x, ...[...layer.x].reverse()],
          y: [...layer.low, ...[...layer.high].reverse()],
          fill: "toself",
          fillpattern: { shape: "/", size: 5, solidity: 0.18, fgcolor: "@soft", bgcolor: "@band" },
          line: { width: 0 },
        },
      ];
    case "interval": {
      const { colour, sign } = VERDICT_LOOKS[layer.verdict];
      const symbol = { disc: "circle", cross: "x-thin", diamond: "diamond-open" }[sign];
      const line = { color: `@${colour}`, width: sign === "disc" ? 0 : 2.4 };
      return [
        {
          ...axes,
          mode: "markers",
          x: [layer.value],
          y: [layer.y],
          error_x: {
            type: "data",
            symmetric: false,
            array: [layer.high - layer.value],
            arrayminus: [layer.value - layer.low],
            color: `@${colour}`,
            thickness: 2,
            width: 4,
          },
          marker: { symbol, size: 10, color: `@${colour}`, line },
          hovertemplate: `%{x:.3~g} ${cell.x.unit}<extra></extra>`,
        },
      ];
    }
    default:
      return [];
  }
}

function layout(figure: Figure, placed: readonly Placed[], columns: number, narrow: boolean): Json {
  const bare = placed.every(({ panel }) => panel.y.label === "");
  const titled = figure.cells.some((cell) => cell.title !== null);
  const margin = {
    l: bare ? BARE_LEFT_PX : MARGIN_PX.left,
    r: MARGIN_PX.right,
    t: titled ? MARGIN_PX.top : 8,
    b: MARGIN_PX.bottom,
  };
  const rowHeights = heightsOfRows(figure.cells, columns);
  const plotPx = rowHeights.reduce((sum, height) => sum + height, 0) + (rowHeights.length - 1) * CELL_GAP_PX;
  const width = (1 - (columns - 1) * COLUMN_GAP) / columns;
  const axes: Json = {};
  const shapes: Json[] = [];
  const annotations: Json[] = [];
  for (const one of placed) {
    const column = one.cellIndex % columns;
    const row = Math.floor(one.cellIndex / columns);
    const left = column * (width + COLUMN_GAP);
    const rowTop = rowHeights.slice(0, row).reduce((sum, height) => sum + height + CELL_GAP_PX, 0);
    const above = one.cell.panels
      .slice(0, one.panelIndex)
      .reduce((sum, panel) => sum + panel.heightPx + PANEL_GAP_PX, 0);
    const top = 1 - (rowTop + above) / plotPx;
    const bottom = top - one.panel.heightPx / plotPx;
    const lowest = one.panelIndex === one.cell.panels.length - 1;
    axes[`xaxis${suffix(one.axis)}`] = abscissa(one, [left, left + width], lowest, narrow || columns > 2 ? 6 : 9);
    axes[`yaxis${suffix(one.axis)}`] = ordinate(one.panel, one.axis, [Math.max(0, bottom), top], column === 0);
    shapes.push(...one.panel.layers.flatMap((layer) => shapesOf(layer, one.axis)));
    annotations.push(
      ...one.panel.layers.flatMap((layer) => (layer.kind === "text" ? [label(layer, one.axis, narrow)] : [])),
    );
    if (one.cell.title !== null && one.panelIndex === 0) annotations.push(cellTitle(one.cell.title, left, top));
  }
  return {
    ...axes,
    shapes,
    annotations,
    margin,
    height: plotPx + margin.t + margin.b,
    autosize: true,
    paper_bgcolor: "@paper",
    plot_bgcolor: "@paper",
    font: { family: "system-ui, sans-serif", size: 12, color: "@ink" },
    hoverlabel: { bgcolor: "@paper", bordercolor: "@soft", font: { color: "@ink" } },
    hovermode: "closest",
    dragmode: narrow ? false : "zoom",
    showlegend: false,
  };
}

function heightsOfRows(cells: readonly FigureCell[], columns: number): number[] {
  const rows = Math.ceil(cells.length / columns);
  return Array.from({ length: rows }, (_, row) =>
    Math.max(
      ...cells
        .slice(row * columns, (row + 1) * columns)
        .map((cell) => cell.panels.reduce((sum, panel) => sum + panel.heightPx + PANEL_GAP_PX, -PANEL_GAP_PX)),
    ),
  );
}

function abscissa(one: Placed, domain: [number, number], lowest: boolean, tickCount: number): Json {
  const { x } = one.cell;
  const lowestAxis = one.axis + (one.cell.panels.length - 1 - one.panelIndex);
  return {
    ...axisLook(x, domain),
    anchor: axisName("y", one.axis),
    showticklabels: lowest,
    nticks: tickCount,
    ...(lowest ? { title: axisTitle(x.label) } : { matches: axisName("x", lowestAxis) }),
  };
}

function ordinate(panel: FigurePanel, axis: number, domain: [number, number], leftmost: boolean): Json {
  const shown = panel.y.label !== "";
  return {
    ...axisLook(panel.y, domain),
    anchor: axisName("x", axis),
    showgrid: shown,
    showline: shown,
    showticklabels: shown,
    fixedrange: !shown,
    nticks: Math.max(3, Math.round(panel.heightPx / 36)),
    ...(shown && leftmost ? { title: axisTitle(panel.y.label) } : {}),
  };
}

function axisLook(axis: FigureAxis, domain: [number, number]): Json {
  return {
    domain,
    range: [axis.low, axis.high],
    zeroline: false,
    gridcolor: "@grid",
    linecolor: "@soft",
    showline: true,
    tickfont: { color: "@soft", size: 11.5 },
    hoverformat: ".5~g",
    separatethousands: false,
    exponentformat: "none",
  };
}

function axisTitle(text: string): Json {
  return { text, font: { color: "@soft", size: 11.5 }, standoff: 6 };
}

function shapesOf(layer: FigureLayer, axis: number): Json[] {
  const refs = { xref: axisName("x", axis), yref: axisName("y", axis) };
  if (layer.kind === "span") {
    const box = { x0: layer.fromX, x1: layer.toX, y0: 0, y1: 1 };
    return [
      {
        ...refs,
        yref: `${refs.yref} domain`,
        type: "rect",
        layer: "below",
        fillcolor: "@span",
        line: { width: 0 },
        ...box,
      },
    ];
  }
  if (layer.kind === "tick") {
    const ends = { x0: layer.x, x1: layer.x, y0: -TICK_HALF_PX, y1: TICK_HALF_PX };
    return [{ ...refs, type: "line", ysizemode: "pixel", yanchor: layer.y, line: lineOf(TICKS[layer.role]), ...ends }];
  }
  return [];
}

function label(layer: FigureText, axis: number, narrow: boolean): Json {
  const anchors = { start: "left", middle: "center", end: "right" };
  return {
    xref: axisName("x", axis),
    yref: axisName("y", axis),
    x: layer.x,
    y: layer.y,
    xanchor: anchors[layer.anchor],
    yanchor: "middle",
    text: escapeLabel(narrow ? layer.narrowText : layer.text),
    showarrow: false,
    font: { size: 12, color: "@ink" },
  };
}

function cellTitle(text: string, left: number, top: number): Json {
  const place = { xref: "paper", yref: "paper", x: left, y: top, xanchor: "left", yanchor: "bottom" };
  return {
    ...place,
    text: `<b>${escapeLabel(text)}</b>`,
    showarrow: false,
    yshift: 4,
    font: { size: 12, color: "@ink" },
  };
}

function lineOf(look: { colour: string; widthPx: number; dash: string }): Json {
  return { color: `@${look.colour}`, width: look.widthPx, ...(look.dash === "" ? {} : { dash: pixels(look.dash) }) };
}

function pixels(dash: string): string {
  return dash
    .split(",")
    .map((length) => `${length}px`)
    .join(",");
}

/** The plotting library reads a few tags and entities in labels; these stay text. */
function escapeLabel(text: string): string {
  return text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
}

function axisName(letter: "x" | "y", axis: number): string {
  return `${letter}${suffix(axis)}`;
}

function suffix(axis: number): string {
  return axis === 1 ? "" : String(axis);
}
