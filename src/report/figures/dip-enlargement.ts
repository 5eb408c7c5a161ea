import type { Analysis, Dip } from "../../core/index.js";
import type { NameOf } from "../label-text.js";
import { count } from "../messages.js";
import { formatMoment, formatPlain, formatQuantity } from "../number-format.js";
import { binMeans, rounder, type SeriesValues, thinned } from "./decimation.js";
import type { Figure, FigureCell, FigureLayer, KeyEntry } from "./figure.js";
import { padded, windowAround } from "./voltage-trace.js";

const MOST_FIGURES = 12;
const MOST_CELLS = 6;
const BIN_COUNT = 120;
/** Millivolts that a drawing of a dip resolves. */
const STEP_MV = 0.05;

/** One figure per load: each of its dips enlarged with fit, depth and residuals, all on one scale. */
export function dipEnlargements(analysis: Analysis, nameOf: NameOf): readonly Figure[] {
  const keys = [...analysis.loads.map((load) => load.id), null];
  return keys
    .map((load) => ({ load, dips: analysis.dips.filter((dip) => dip.load === load) }))
    .filter((group) => group.dips.length > 0)
    .slice(0, MOST_FIGURES)
    .map(({ load, dips }, i) => enlargement(analysis, load === null ? null : nameOf(load), dips, i + 1))
    .filter((figure) => figure !== null);
}

function enlargement(analysis: Analysis, name: string | null, dips: readonly Dip[], number: number): Figure | null {
  const shown = dips.slice(0, MOST_CELLS);
  const cells = shown.map((dip) => dipCell(analysis, dip)).filter((cell) => cell !== null);
  if (cells.length === 0) return null;
  const who = name ?? "Dips of no told load";
  const left = dips.length - shown.length;
  const dense = cells.some((cell) =>
    cell.panels[0]!.layers.some((layer) => layer.kind === "points" && layer.role === "means"),
  );
  const readingKey: KeyEntry[] = dense
    ? [
        { sign: "reading", text: "readings, lowest to highest" },
        { sign: "means", text: "mean of each column" },
      ]
    : [{ sign: "readings", text: "readings less drift" }];
  return {
    id: `dips-${number}`,
    title: `${who}: each dip enlarged`,
    caption: `Readings less the fitted drift, time from the onset; below each, the rest that the fit leaves. The hatched band is the depth with its coverage interval, taken from the fit just before the onset.${left > 0 ? ` The first ${shown.length} of ${dips.length} dips are drawn; the rest stand in the table of dips.` : ""}`,
    alt: `${who}: ${count(shown.length, "dip")} enlarged. ${shown.map((dip, i) => `Dip ${i + 1} at ${formatMoment(dip.onsetS)}: depth ${formatQuantity(dip.depth)}.`).join(" ")}`,
    key: [...readingKey, { sign: "model", text: "fit" }, { sign: "band", text: "depth with its interval" }],
    cells: sameScale(cells),
    columns: Math.min(3, cells.length),
    table: {
      head: ["Dip", "Onset", "Duration", "Depth", "Rest (standard deviation)"],
      rows: shown.map((dip, i) => [
        String(i + 1),
        formatMoment(dip.onsetS),
        formatPlain(dip.durationS, "s"),
        formatQuantity(dip.depth, { coverage: true }),
        leftOver(analysis, dip),
      ]),
    },
  };
}

function dipCell(analysis: Analysis, dip: Dip): FigureCell | null {
  const { curves, recording } = analysis;
  const spareS = Math.min(10, Math.max(dip.durationS * 0.6, 0.2));
  const [start, end] = windowAround(curves.timesS, dip.onsetS, dip.releaseS, spareS);
  if (end - start < 2) return null;
  const within = (series: Float64Array) => series.subarray(start, end);
  const shifted = within(curves.timesS).map((timeS) => timeS - dip.onsetS);
  const gaps = recording.gaps.map((gap) => ({ startS: gap.startS - dip.onsetS, endS: gap.endS - dip.onsetS }));
  const window = { timesS: shifted, start: 0, end: shifted.length, binCount: BIN_COUNT, gaps };
  const difference = (values: Float64Array, minus: Float64Array): SeriesValues => ({
    values: within(values),
    minus: within(minus),
    factor: 1e3,
  });
  const readings = readingLayers(window, difference(curves.readingsV, curves.driftV));
  const rest = readingLayers(window, difference(curves.readingsV, curves.modelV));
  const fit = thinned(window, difference(curves.modelV, curves.driftV), STEP_MV);
  const round = rounder(STEP_MV);
  const beforeMv = fit.y[Math.max(0, fit.x.findIndex((timeS) => timeS > -dip.durationS / 10) - 1)] ?? 0;
  const bounds = [dip.depth.low, dip.depth.high].map((depthV) => round(beforeMv - depthV * 1e3));
  const x = { label: "Time from onset (s)", unit: "s", low: shifted[0]!, high: shifted[shifted.length - 1]! };
  if (!(x.high > x.low)) return null;
  return {
    title: `at ${formatMoment(dip.onsetS)}: ${formatQuantity(dip.depth, { form: "compact" })}`,
    x,
    panels: [
      {
        y: { label: "Change (mV)", unit: "mV", ...padded([...readings.map((layer) => layer.y), fit.y, bounds]) },
        heightPx: 150,
        layers: [
          { kind: "band", x: [0, dip.durationS], low: [bounds[1]!, bounds[1]!], high: [bounds[0]!, bounds[0]!] },
          ...readings,
          { kind: "line", role: "model", x: fit.x, y: fit.y },
        ],
      },
      {
        y: { label: "Rest (mV)", unit: "mV", ...padded(rest.map((layer) => layer.y)) },
        heightPx: 74,
        layers: [{ kind: "line", role: "zero", x: [x.low, x.high], y: [0, 0] }, ...rest],
      },
    ],
  };
}

type SeriesLayer = Extract<FigureLayer, { kind: "line" | "points" }>;

/** Readings as points; too many of them as the span from lowest to highest in each column, with the column's mean. */
function readingLayers(window: Parameters<typeof thinned>[0], series: SeriesValues): SeriesLayer[] {
  const drawn = thinned(window, series, STEP_MV);
  if (!drawn.thinned) return [{ kind: "points", role: "readings", x: drawn.x, y: drawn.y }];
  const means = binMeans(window, series, STEP_MV);
  return [
    { kind: "line", role: "reading", x: drawn.x, y: drawn.y },
    { kind: "points", role: "means", x: means.x, y: means.y },
  ];
}

/** Gives every cell the widest ordinate among them, panel by panel, so that dips compare by eye. */
export function sameScale(cells: readonly FigureCell[]): readonly FigureCell[] {
  return cells.map((cell) => ({
    ...cell,
    panels: cell.panels.map((panel, row) => {
      const axes = cells.map((one) => one.panels[row]!.y);
      const low = Math.min(...axes.map((axis) => axis.low));
      const high = Math.max(...axes.map((axis) => axis.high));
      return { ...panel, y: { ...panel.y, low, high } };
    }),
  }));
}

function leftOver(analysis: Analysis, dip: Dip): string {
  const { timesS, readingsV, modelV } = analysis.curves;
  const [start, end] = windowAround(timesS, dip.onsetS, dip.releaseS, 0);
  let squares = 0;
  for (let i = start; i < end; i++) squares += (readingsV[i]! - modelV[i]!) ** 2;
  return end - start < 2 ? "not known" : formatPlain(Math.sqrt(squares / (end - start)), "V", { digits: 2 });
}
