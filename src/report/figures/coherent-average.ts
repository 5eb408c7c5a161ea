import type { Analysis, CoherentAverage } from "../../core/index.js";
import { type NameOf, plainLabel } from "../label-text.js";
import { count, listed } from "../messages.js";
import { formatPlain } from "../number-format.js";
import { rounder } from "./decimation.js";
import { sameScale } from "./dip-enlargement.js";
import type { Figure, FigureCell, FigureTable } from "./figure.js";
import { padded } from "./voltage-trace.js";

const MOST_CELLS = 12;
const MOST_POINTS = 240;
const TABLE_POINTS = 8;
/** What fits above one of three cells side by side. */
const TITLE_SIGNS = 24;
/** Half-width of the drawn band in standard uncertainties: 95 % of a normal distribution. */
const BAND_FACTOR = 1.96;

/** Mean of each load's repeated dips, aligned at the onset, with its 95 % band and the fit. */
export function coherentAverages(analysis: Analysis, nameOf: NameOf): Figure | null {
  const shown = analysis.curves.coherent.filter((one) => one.timesS.length > 1).slice(0, MOST_CELLS);
  if (shown.length === 0) return null;
  const cells = shown.map((one) => averageCell(one, nameOf));
  const names = listed(shown.map((one) => `${nameOf(one.load)} (${count(one.dipCount, "switching")})`));
  return {
    id: "coherent-average",
    title: "Repeated switchings averaged",
    caption: `Mean over the switchings of a load, aligned at the onset, drift taken out: what repeats stays, noise averages away. The hatched band is \u00b11.96 standard uncertainties of the mean (95 %). Averaged: ${names}.`,
    alt: `Averages of repeated switchings with their uncertainty bands: ${names}. The table gives the mean at chosen times.`,
    key: [
      { sign: "mean", text: "mean" },
      { sign: "band", text: "95 % band of the mean" },
      { sign: "model", text: "fit" },
    ],
    cells: sameScale(cells),
    columns: Math.min(cells.length === 4 ? 2 : 3, cells.length),
    table: averageTable(shown, nameOf),
  };
}

function averageCell(average: CoherentAverage, nameOf: NameOf): FigureCell {
  const stride = Math.max(1, Math.ceil(average.timesS.length / MOST_POINTS));
  const kept = Array.from({ length: Math.ceil(average.timesS.length / stride) }, (_, k) => k * stride);
  const roundV = rounder(0.05);
  const roundS = rounder(1e-3);
  const milli = (values: Float64Array) => kept.map((i) => roundV(values[i]! * 1e3));
  const x = kept.map((i) => roundS(average.timesS[i]!));
  const mean = milli(average.meanV);
  const u = milli(average.uMeanV);
  const low = mean.map((value, i) => roundV(value - BAND_FACTOR * u[i]!));
  const high = mean.map((value, i) => roundV(value + BAND_FACTOR * u[i]!));
  const model = milli(average.modelV);
  return {
    title: plainLabel(nameOf(average.load), TITLE_SIGNS),
    x: { label: "Time from onset (s)", unit: "s", low: x[0]!, high: x[x.length - 1]! },
    panels: [
      {
        y: { label: "Mean change (mV)", unit: "mV", ...padded([low, high, model]) },
        heightPx: 160,
        layers: [
          { kind: "band", x, low, high },
          { kind: "line", role: "zero", x: [x[0]!, x[x.length - 1]!], y: [0, 0] },
          { kind: "line", role: "mean", x, y: mean },
          { kind: "line", role: "model", x, y: model },
        ],
      },
    ],
  };
}

function averageTable(averages: readonly CoherentAverage[], nameOf: NameOf): FigureTable {
  return {
    head: ["Load", "Time from onset", "Mean change", "Standard uncertainty", "Fit"],
    rows: averages.flatMap((average) =>
      Array.from({ length: TABLE_POINTS }, (_, k) => {
        const i = Math.round((k * (average.timesS.length - 1)) / (TABLE_POINTS - 1));
        return [
          nameOf(average.load),
          formatPlain(average.timesS[i]!, "s", { digits: 2 }),
          formatPlain(average.meanV[i]!, "V", { digits: 2 }),
          formatPlain(average.uMeanV[i]!, "V", { digits: 2 }),
          formatPlain(average.modelV[i]!, "V", { digits: 2 }),
        ];
      }),
    ),
  };
}
