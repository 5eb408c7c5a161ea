import type { Analysis, AnalysisCurves, Dip } from "../../core/index.js";
import { type NameOf, plainLabel } from "../label-text.js";
import { count } from "../messages.js";
import { formatDuration, formatMoment, formatPlain, formatQuantity } from "../number-format.js";
import { indexAt, rounder, type SeriesValues, thinned } from "./decimation.js";
import type { Figure, FigureLayer, FigurePanel, FigureText } from "./figure.js";

/** Bins across the page; one pixel column each on a wide screen. */
const BIN_COUNT = 720;
/** Dips beyond this many are shaded, not labelled one by one. */
const MOST_RUNS = 24;
const MOST_TABLE_ROWS = 60;
/** Share of the panel's height kept free above the readings for the labels of the dips. */
const LABEL_ROOM = 0.2;
const WIDE_PLOT_PX = 640;
const NARROW_PLOT_PX = 270;
const SIGN_PX = 6.4;

/** The whole recording with its dips shaded and the fitted model over it; below, the same less the fitted drift. */
export function voltageTrace(analysis: Analysis, nameOf: NameOf): Figure | null {
  const { curves, recording, dips } = analysis;
  if (curves.timesS.length < 2) return null;
  const lowS = curves.timesS[0]!;
  const highS = curves.timesS[curves.timesS.length - 1]!;
  if (!(highS > lowS)) return null;
  const level = levelPanel(analysis, nameOf);
  const change = changePanel(analysis);
  return {
    id: "voltage-trace",
    title: "The whole recording",
    caption: `Top: readings and fitted level, dips shaded. Bottom: the same less the fitted level without dips, so that small dips stand clear of the slow drift.${silentRuns(analysis).length > 0 ? " A bracket over each switching without shade: the load was on, and no dip was found." : ""}${level.thinned ? ` Drawn from ${curves.timesS.length.toLocaleString("en")} values: each of ${BIN_COUNT} columns shows its lowest and its highest.` : ""}`,
    alt: altText(analysis),
    key: [
      { sign: "reading", text: "readings" },
      { sign: "model", text: "fitted level with dips" },
      { sign: "drift", text: "fitted level without dips" },
      { sign: "span", text: "dip" },
    ],
    cells: [
      { title: null, x: { label: "Time (s)", unit: "s", low: lowS, high: highS }, panels: [level.panel, change] },
    ],
    columns: 1,
    table: {
      head: ["Dip", "Load", "Onset", "Release", "Depth (± at its coverage)"],
      rows: dips
        .slice(0, MOST_TABLE_ROWS)
        .map((dip, i) => [
          String(i + 1),
          dip.load === null ? "not told" : nameOf(dip.load),
          formatMoment(dip.onsetS),
          formatMoment(dip.releaseS),
          formatQuantity(dip.depth, { coverage: true }),
        ]),
    },
  };

  function altText(whole: Analysis): string {
    const range = `${formatPlain(recording.lowestV, "V", { digits: 4 })} and ${formatPlain(recording.highestV, "V", { digits: 4 })}`;
    return `Bus voltage over ${formatDuration(recording.durationS)}, between ${range}, with ${count(whole.dips.length, "dip")} shaded and the fitted level drawn over the readings.`;
  }
}

function levelPanel(analysis: Analysis, nameOf: NameOf): { panel: FigurePanel; thinned: boolean } {
  const { curves, dips, recording } = analysis;
  const window = {
    timesS: curves.timesS,
    start: 0,
    end: curves.timesS.length,
    binCount: BIN_COUNT,
    gaps: recording.gaps,
  };
  const roughSpan = Math.max(recording.highestV - recording.lowestV, 1e-3);
  const reading = thinned(window, { values: curves.readingsV, factor: 1 }, roughSpan / 4000);
  const model = thinned(window, { values: curves.modelV, factor: 1 }, roughSpan / 4000);
  const drift = thinned({ ...window, binCount: 120 }, { values: curves.driftV, factor: 1 }, roughSpan / 4000);
  const axis = padded([reading.y, model.y, drift.y]);
  const room = (axis.high - axis.low) * LABEL_ROOM;
  const layers: FigureLayer[] = [
    ...dips.map(shading),
    { kind: "line", role: "reading", x: reading.x, y: reading.y },
    { kind: "line", role: "drift", x: drift.x, y: drift.y },
    { kind: "line", role: "model", x: model.x, y: model.y },
    ...runLabels(analysis, nameOf, axis.high, room),
  ];
  return {
    panel: { y: { label: "Bus voltage (V)", unit: "V", low: axis.low, high: axis.high + room }, heightPx: 230, layers },
    thinned: reading.thinned,
  };
}

function changePanel(analysis: Analysis): FigurePanel {
  const { curves, dips, recording } = analysis;
  const window = {
    timesS: curves.timesS,
    start: 0,
    end: curves.timesS.length,
    binCount: BIN_COUNT,
    gaps: recording.gaps,
  };
  const change = thinned(window, lessDrift(curves, curves.readingsV), 0.05);
  const model = thinned(window, lessDrift(curves, curves.modelV), 0.05);
  const axis = padded([change.y, model.y]);
  return {
    y: { label: "Less drift (mV)", unit: "mV", low: axis.low, high: axis.high },
    heightPx: 150,
    layers: [
      ...dips.map(shading),
      { kind: "line", role: "reading", x: change.x, y: change.y },
      { kind: "line", role: "model", x: model.x, y: model.y },
    ],
  };
}

/** Values less the fitted drift, in millivolts. */
function lessDrift(curves: AnalysisCurves, valuesV: Float64Array): SeriesValues {
  return { values: valuesV, minus: curves.driftV, factor: 1e3 };
}

/** Bounds of the finite values with a twentieth of their span to spare on both sides. */
export function padded(series: readonly (readonly (number | null)[])[]): { low: number; high: number } {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const values of series) {
    for (const value of values) {
      if (value === null || !Number.isFinite(value)) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  }
  if (!(high >= low)) return { low: -1, high: 1 };
  const spare = high > low ? (high - low) / 20 : Math.max(Math.abs(high) / 100, 0.01);
  const round = rounder(spare / 50);
  return { low: round(low - spare), high: round(high + spare) };
}

function shading(dip: Dip): FigureLayer {
  return { kind: "span", fromX: dip.onsetS, toX: dip.releaseS };
}

/** A bracket and a name over each run of dips of one load. */
function runLabels(analysis: Analysis, nameOf: NameOf, atV: number, room: number): FigureLayer[] {
  const { curves, dips } = analysis;
  const runs = [...runsOf(dips), ...silentRuns(analysis)].sort((a, b) => a.fromS - b.fromS);
  if (runs.length > MOST_RUNS) return [];
  const lowS = curves.timesS[0]!;
  const highS = curves.timesS[curves.timesS.length - 1]!;
  const foot = atV + room * 0.2;
  return runs.flatMap((run, i): FigureLayer[] => {
    const { load } = run;
    if (load === null) return [];
    const leftS = Math.max(lowS, i === 0 ? lowS : (runs[i - 1]!.toS + run.fromS) / 2);
    const rightS = Math.min(highS, i === runs.length - 1 ? highS : (run.toS + runs[i + 1]!.fromS) / 2);
    const halfS = Math.min((run.fromS + run.toS) / 2 - leftS, rightS - (run.fromS + run.toS) / 2);
    const nameWithin = (plotPx: number) => {
      const signs = Math.floor(((2 * halfS) / (highS - lowS)) * (plotPx / SIGN_PX)) - 1;
      return nameInSigns(nameOf(load), signs);
    };
    const text: FigureText = {
      kind: "text",
      x: (run.fromS + run.toS) / 2,
      y: foot + room * 0.4,
      text: nameWithin(WIDE_PLOT_PX),
      narrowText: nameWithin(NARROW_PLOT_PX),
      anchor: "middle",
      roomX: 2 * halfS,
    };
    const tick = foot - room * 0.12;
    return [
      ...(run.onTimes ?? [{ onsetS: run.fromS, releaseS: run.toS }]).map(
        ({ onsetS, releaseS }): FigureLayer => ({
          kind: "line",
          role: "bracket",
          x: [onsetS, onsetS, releaseS, releaseS],
          y: [tick, foot, foot, tick],
        }),
      ),
      text,
    ];
  });
}

/** Fewest signs of a cut name that tell it from others. */
const TELLING_SIGNS = 8;

/** A name in so many signs: whole, or cut; in few signs the initials of its words, by which loads of one kind differ. */
function nameInSigns(name: string, signs: number): string {
  const whole = plainLabel(name, 200);
  if (whole.length <= signs) return whole;
  const initials = whole.split(" ").map((word) => [...word][0] ?? "");
  if (signs < TELLING_SIGNS && initials.length > 1) return initials.length <= signs ? initials.join("") : "";
  return signs < 4 ? "" : plainLabel(name, signs);
}

interface Run {
  readonly load: string | null;
  readonly fromS: number;
  readonly toS: number;
  /** Of a load without dips: each of its on-times. */
  readonly onTimes?: readonly { readonly onsetS: number; readonly releaseS: number }[];
}

/** The switchings of loads of which no dip was found. */
function silentRuns({ curves, dips }: Analysis): Run[] {
  return curves.coherent
    .filter(({ load, onTimes }) => onTimes.length > 0 && !dips.some((dip) => dip.load === load))
    .map(({ load, onTimes }) => ({
      load,
      fromS: Math.min(...onTimes.map(({ onsetS }) => onsetS)),
      toS: Math.max(...onTimes.map(({ releaseS }) => releaseS)),
      onTimes,
    }));
}

function runsOf(dips: readonly Dip[]): Run[] {
  const runs: Run[] = [];
  for (const dip of [...dips].sort((a, b) => a.onsetS - b.onsetS)) {
    const last = runs[runs.length - 1];
    if (last !== undefined && last.load === dip.load && dip.load !== null) {
      runs[runs.length - 1] = { ...last, toS: dip.releaseS };
    } else runs.push({ load: dip.load, fromS: dip.onsetS, toS: dip.releaseS });
  }
  return runs;
}

/** Window of indices around a dip, `spareS` seconds to each side. */
export function windowAround(timesS: Float64Array, fromS: number, toS: number, spareS: number): [number, number] {
  return [indexAt(timesS, fromS - spareS), indexAt(timesS, toS + spareS)];
}
