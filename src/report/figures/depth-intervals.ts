import type { Analysis, LoadAnswer } from "../../core/index.js";
import { type NameOf, plainLabel } from "../label-text.js";
import { formatPlain, formatQuantity } from "../number-format.js";
import { rounder } from "./decimation.js";
import type { Figure, FigureLayer, KeyEntry } from "./figure.js";
import { padded } from "./voltage-trace.js";

const ROW_PX = 50;
const MOST_ROWS = 40;

/** The judgement as a picture: each load's depth with its interval against what noise makes and what was to be found. */
export function depthIntervals(analysis: Analysis, nameOf: NameOf): Figure | null {
  const shown = analysis.loads.filter((load) => load.depth !== null).slice(0, MOST_ROWS);
  if (shown.length === 0) return null;
  const figures = shown.flatMap((load) => [
    load.depth!.low * 1e3,
    load.depth!.high * 1e3,
    (load.expectedDepthV ?? 0) * 1e3,
    (load.criticalDepthV ?? 0) * 1e3,
  ]);
  const axis = padded([figures, [0]]);
  const rowOf = (i: number) => shown.length - i;
  return {
    id: "depth-intervals",
    title: "Depth found, against what had to be found",
    caption:
      "For each load the mean depth of its dips with its coverage interval. Right of the dashed tick a dip is deeper than noise alone would seldom make. The solid tick is the dip of the lowest acceptable current.",
    alt: shown.map((load) => sentence(load, nameOf)).join(" "),
    key: keyOf(shown),
    cells: [
      {
        title: null,
        x: { label: "Depth (mV)", unit: "mV", ...axis },
        panels: [
          {
            y: { label: "", unit: "", low: 0.35, high: shown.length + 0.75 },
            heightPx: ROW_PX * shown.length + 8,
            layers: [
              { kind: "line", role: "zero", x: [0, 0], y: [0.35, shown.length + 0.75] },
              ...shown.flatMap((load, i) => rowLayers(load, rowOf(i), axis, nameOf)),
            ],
          },
        ],
      },
    ],
    columns: 1,
    table: {
      head: ["Load", "Verdict", "Depth", "Critical value", "Lowest acceptable dip"],
      rows: shown.map((load) => [
        nameOf(load.id),
        load.verdict,
        formatQuantity(load.depth, { coverage: true }),
        formatPlain(load.criticalDepthV, "V", { digits: 2 }),
        formatPlain(load.expectedDepthV, "V", { digits: 2 }),
      ]),
    },
  };
}

const roundMv = rounder(0.01);

function milli(valueV: number): number {
  return roundMv(valueV * 1e3);
}

function rowLayers(load: LoadAnswer, row: number, axis: { low: number; high: number }, nameOf: NameOf): FigureLayer[] {
  const depth = load.depth!;
  const labelY = row + 0.38;
  const layers: FigureLayer[] = [
    {
      kind: "interval",
      y: row,
      low: milli(depth.low),
      high: milli(depth.high),
      value: milli(depth.value),
      verdict: load.verdict,
    },
    {
      kind: "text",
      x: axis.low,
      y: labelY,
      text: `${nameOf(load.id)}: ${load.verdict}`,
      narrowText: `${plainLabel(nameOf(load.id), 16)}: ${load.verdict}`,
      anchor: "start",
    },
    {
      kind: "text",
      x: axis.high,
      y: labelY,
      text: formatQuantity(depth, { form: "compact" }),
      narrowText: formatQuantity(depth, { form: "compact" }),
      anchor: "end",
    },
  ];
  if (load.criticalDepthV !== null && Number.isFinite(load.criticalDepthV)) {
    layers.push({ kind: "tick", role: "critical", x: milli(load.criticalDepthV), y: row });
  }
  if (load.expectedDepthV !== null && Number.isFinite(load.expectedDepthV)) {
    layers.push({ kind: "tick", role: "expected", x: milli(load.expectedDepthV), y: row });
  }
  return layers;
}

function keyOf(shown: readonly LoadAnswer[]): KeyEntry[] {
  const verdicts = [...new Set(shown.map((load) => load.verdict))];
  return [
    ...verdicts.map((verdict) => ({ sign: verdict, text: verdict })),
    { sign: "critical", text: "critical value" },
    ...(shown.some((load) => load.expectedDepthV !== null)
      ? [{ sign: "expected" as const, text: "dip of the lowest acceptable current" }]
      : []),
  ];
}

function sentence(load: LoadAnswer, nameOf: NameOf): string {
  const critical =
    load.criticalDepthV === null ? "" : `, critical value ${formatPlain(load.criticalDepthV, "V", { digits: 2 })}`;
  const expected =
    load.expectedDepthV === null
      ? ""
      : `, lowest acceptable dip ${formatPlain(load.expectedDepthV, "V", { digits: 2 })}`;
  return `${nameOf(load.id)} ${load.verdict === "no response" ? "gave no response" : load.verdict === "undecided" ? "is undecided" : "responded"}: depth ${formatQuantity(load.depth)}${critical}${expected}.`;
}
