import type { SeriesTrend } from "../../core/index.js";
import { formatPlain } from "../number-format.js";
import { apartText, dateText, flightsText, forecastText, levelText, seriesText, valueText } from "../trend-messages.js";
import { decimalExponent, powerOfTen } from "./decimal-power.js";
import { rounder } from "./decimation.js";
import type { Figure, FigureLayer, FigurePanel, KeyEntry } from "./figure.js";
import { padded } from "./voltage-trace.js";

const READINGS_PX = 260;
const SUM_PX = 90;
const DISPLAY = {
  Ohm: { factor: 1e3, symbol: "m\u03a9" },
  A: { factor: 1, symbol: "A" },
  min: { factor: 1, symbol: "min" },
} as const;

/** The control chart of one series: readings with intervals, moving average with its limit, cumulative sum with its limit. */
export function trendChart(series: SeriesTrend, id: string): Figure {
  const { chart } = series.judgement;
  const count = series.points.length;
  const x = { label: "Flight", unit: "flight", low: 0.5, high: Math.max(count + 0.5, 2) };
  const title = seriesText(series);
  return {
    id,
    title: `${title.charAt(0).toUpperCase()}${title.slice(1)}`,
    caption: chart
      ? `Each point is a flight with its 95 % interval; its date and report stand in the table of flights. An alarm stands where the moving average (EWMA, newest flight ${(100 * 0.15).toFixed(0)} %) passes the dashed limit. Below, the cumulative sum of departures (CUSUM) dates the change; it raises no alarm of its own.`
      : "Each point is a flight with its 95 % interval; its date and report stand in the table of flights. The control chart begins once the baseline is complete.",
    alt: `${flightsText(count)} from ${dateText(series.points[0]!.atS)} to ${dateText(series.points[count - 1]!.atS)}: ${levelText(series)}. ${forecastText(series)}.`,
    key: keyOf(series),
    cells: [{ title: null, x, panels: [readingsPanel(series, x), ...sumPanels(series)] }],
    columns: 1,
    table: {
      head: ["Flight", "Date", "Reading", "Moving average"],
      rows: series.points.map((point, index) => [
        String(index + 1),
        dateText(point.atS),
        valueText(series, point),
        chart && index >= chart.firstFlight
          ? formatPlain(chart.average[index - chart.firstFlight]!, series.unit)
          : "baseline",
      ]),
    },
  };
}

function readingsPanel(series: SeriesTrend, x: { low: number; high: number }): FigurePanel {
  const { factor, symbol } = DISPLAY[series.unit];
  const { chart, limit, regimeStart } = series.judgement;
  const round = rounder(powerOfTen(decimalExponent(factor * series.points[0]!.value) - 4));
  const shown = (value: number) => round(factor * value);
  const flights = series.points.map((_, index) => index + 1);
  const lows = series.points.map((point) => shown(point.value - 1.96 * point.u));
  const highs = series.points.map((point) => shown(point.value + 1.96 * point.u));
  const levels = [...(chart ? [shown(chart.averageLimit)] : []), ...(limit === null ? [] : [shown(limit)])];
  const axis = padded([lows, highs, levels]);
  const outlying = new Set(series.judgement.outlying.map((each) => each.flight));
  const layers: FigureLayer[] = [
    ...(chart
      ? [{ kind: "span" as const, fromX: regimeStart + 0.5, toX: regimeStart + chart.baselineFlights + 0.5 }]
      : []),
    {
      kind: "line",
      role: "bracket",
      x: flights.flatMap((flight) => [flight, flight, flight]),
      y: lows.flatMap((low, index) => [low, highs[index]!, null]),
    },
    {
      kind: "points",
      role: "means",
      x: flights,
      y: series.points.map((point, index) => (outlying.has(index) ? null : shown(point.value))),
    },
    ...[...outlying].map((flight): FigureLayer => {
      const value = shown(series.points[flight]!.value);
      return { kind: "text", x: flight + 1, y: value, text: "\u2573", narrowText: "\u2573", anchor: "middle" };
    }),
  ];
  if (chart) {
    const watched = flights.slice(chart.firstFlight);
    const from = chart.firstFlight - chart.baselineFlights + 1;
    layers.push(
      { kind: "line", role: "zero", x: [from, x.high], y: [shown(chart.baseline), shown(chart.baseline)] },
      {
        kind: "line",
        role: "drift",
        x: [chart.firstFlight + 0.5, x.high],
        y: [shown(chart.averageLimit), shown(chart.averageLimit)],
      },
      { kind: "line", role: "model", x: watched, y: [...chart.average].map(shown) },
    );
  }
  if (limit !== null) {
    layers.push(
      { kind: "line", role: "mean", x: [x.low, x.high], y: [shown(limit), shown(limit)] },
      {
        kind: "text",
        x: x.low + 0.01 * (x.high - x.low),
        y: shown(limit) + 0.035 * (axis.high - axis.low),
        text: `limit ${formatPlain(limit, series.unit)}`,
        narrowText: "limit",
        anchor: "start",
      },
    );
  }
  return { y: { label: `${quantityLabel(series)} (${symbol})`, unit: symbol, ...axis }, heightPx: READINGS_PX, layers };
}

function sumPanels(series: SeriesTrend): FigurePanel[] {
  const { chart } = series.judgement;
  if (!chart || chart.sum.length === 0) return [];
  const round = rounder(1e-3);
  const flights = [...chart.sum].map((_, index) => chart.firstFlight + index + 1);
  const high = 1.15 * Math.max(chart.sumLimit, ...chart.sum);
  return [
    {
      y: { label: "CUSUM", unit: "scatters", low: 0, high },
      heightPx: SUM_PX,
      layers: [
        { kind: "line", role: "model", x: flights, y: [...chart.sum].map(round) },
        {
          kind: "line",
          role: "drift",
          x: [chart.firstFlight + 0.5, series.points.length + 0.5],
          y: [round(chart.sumLimit), round(chart.sumLimit)],
        },
      ],
    },
  ];
}

function keyOf(series: SeriesTrend): KeyEntry[] {
  const { chart, limit } = series.judgement;
  return [
    { sign: "means", text: "flight" },
    { sign: "bracket", text: "its 95 % interval" },
    ...(chart
      ? ([
          { sign: "span", text: "baseline flights" },
          { sign: "zero", text: "baseline" },
          { sign: "model", text: "moving average; below, cumulative sum" },
          { sign: "drift", text: "control limit" },
        ] as const)
      : []),
    ...(limit === null ? [] : [{ sign: "mean" as const, text: "limit" }]),
  ];
}

function quantityLabel(series: SeriesTrend): string {
  switch (series.quantity) {
    case "internal-resistance":
      return "Internal resistance";
    case "source-resistance":
      return "Source resistance";
    case "endurance":
      return "Endurance";
    case "load-current":
      return "Current";
  }
}

/** The readings that are shown apart, as table rows. */
export function apartRows(series: SeriesTrend): readonly (readonly string[])[] {
  return series.apart.map(({ reading, reason }) => [
    dateText(reading.atS),
    valueText(series, reading),
    apartText(reason),
  ]);
}
