import type { SeriesTrend } from "../core/index.js";

/** How large a plot of letters is, and with which letters. */
export interface PlotStyle {
  readonly columns: number;
  readonly rows: number;
  readonly ascii: boolean;
}

const SPARKS = ["\u2581", "\u2582", "\u2583", "\u2584", "\u2585", "\u2586", "\u2587", "\u2588"];
const ASCII_SPARKS = ["_", ".", "-", "=", "+", "*", "#", "@"];

/**
 * A series as lines of letters: each column a flight or the mean of neighbours, `o` a reading, a row of dashes the
 * control limit, dots the baseline; an outlying flight is drawn at the edge; values in milliohms, amperes or minutes at the left.
 */
export function letterPlot(series: SeriesTrend, style: PlotStyle): string[] {
  const { chart } = series.judgement;
  const factor = series.unit === "Ohm" ? 1e3 : 1;
  const columns = columnMeans(usualValues(series, factor), style.columns);
  const levels = chart ? [factor * chart.baseline, factor * chart.averageLimit] : [];
  const low = Math.min(...columns, ...levels);
  const high = Math.max(...columns, ...levels);
  const rowOf = (value: number) => Math.round(((high - value) / (high - low || 1)) * (style.rows - 1));
  const grid = Array.from({ length: style.rows }, () => new Array<string>(columns.length).fill(" "));
  if (chart) {
    grid[rowOf(factor * chart.baseline)]!.fill(style.ascii ? "." : "\u00b7");
    grid[rowOf(factor * chart.averageLimit)]!.fill(style.ascii ? "-" : "\u2500");
  }
  columns.forEach((value, column) => {
    grid[rowOf(value)]![column] = style.ascii ? "o" : "\u2022";
  });
  const decimals = high >= 100 ? 0 : 1;
  const labels = new Map<number, string>([
    [0, high.toFixed(decimals)],
    [style.rows - 1, low.toFixed(decimals)],
  ]);
  if (chart) {
    labels.set(rowOf(factor * chart.baseline), (factor * chart.baseline).toFixed(decimals));
    labels.set(rowOf(factor * chart.averageLimit), (factor * chart.averageLimit).toFixed(decimals));
  }
  const side = style.ascii ? "|" : "\u2502";
  return grid.map((cells, row) => `${(labels.get(row) ?? "").padStart(7)} ${side}${cells.join("").trimEnd()}`);
}

/** A series as one short row of letters. */
export function sparkLine(series: SeriesTrend, columns: number, ascii: boolean): string {
  const means = columnMeans(usualValues(series, 1), columns);
  const low = Math.min(...means);
  const high = Math.max(...means);
  const signs = ascii ? ASCII_SPARKS : SPARKS;
  // A flat series is drawn low and flat, not as a mountain range of noise.
  const span = Math.max(high - low, 0.25 * high);
  return means.map((value) => signs[Math.min(7, Math.floor(((value - low) / span) * 8))]!).join("");
}

/** Values with outlying ones drawn to the edge of the others, so that one flight does not flatten the rest. */
function usualValues(series: SeriesTrend, factor: number): number[] {
  const apart = new Set(series.judgement.outlying.map((each) => each.flight));
  const usual = series.points.filter((_, index) => !apart.has(index)).map((point) => factor * point.value);
  const low = Math.min(...usual);
  const high = Math.max(...usual);
  return series.points.map((point) => Math.max(low, Math.min(high, factor * point.value)));
}

function columnMeans(values: readonly number[], columns: number): number[] {
  if (values.length <= columns) return [...values];
  return Array.from({ length: columns }, (_, column) => {
    const some = values.slice(
      Math.floor((column * values.length) / columns),
      Math.floor(((column + 1) * values.length) / columns),
    );
    return some.reduce((sum, value) => sum + value, 0) / some.length;
  });
}
