import stringWidth from "string-width";
import type { SeriesTrend } from "../core/index.js";
import { asciiText, plainLabel } from "./label-text.js";
import { shortCautionText } from "./messages.js";
import { unbrokenFigures } from "./number-format.js";
import type { TerminalStyle } from "./terminal-summary.js";
import type { BatteryStory, TrendContext } from "./trend-context.js";
import {
  alarmRemedyText,
  alarmText,
  apartText,
  concernText,
  controlLimitText,
  dateText,
  flightsText,
  forecastText,
  levelText,
  normalizationText,
  outlyingText,
  questionText,
  seriesText,
  slopeText,
  trendStatusText,
  valueText,
} from "./trend-messages.js";
import { letterPlot, sparkLine } from "./trend-plot.js";

const PLOT_ROWS = 9;
const LATEST_FLIGHTS = 8;
const FEWEST_TO_PLOT = 5;
const LABEL_WIDTH = 10;
const COLOURS = { alarm: "1;31", question: "33", steady: "36", gathering: "2" } as const;

/** One battery for people: what stands, why, the small plot, the latest flights. */
export function renderBatteryTrend(story: BatteryStory, context: TrendContext, style: TerminalStyle): string {
  const columns = Math.min(100, Math.max(60, Math.floor(style.columns)));
  const lines = [headOf(story), ""];
  if (story.series.length === 0) lines.push("No flight of this battery tells a resistance, an endurance or a current.");
  for (const series of story.series) lines.push(...seriesLines(series, story, context, columns, style), "");
  lines.push(...labelled("Caution", shortCautionText("advisory"), columns));
  if (style.reportPath !== undefined)
    lines.push(`${"Report".padEnd(LABEL_WIDTH)}${plainLabel(style.reportPath, 4096)}`);
  const text = `${lines.join("\n")}\n`;
  return style.ascii ? asciiText(text) : text;
}

/** All batteries, the one of most concern first. */
export function renderFleetTrend(
  stories: readonly BatteryStory[],
  context: TrendContext,
  style: TerminalStyle,
): string {
  const columns = Math.min(120, Math.max(60, Math.floor(style.columns)));
  const idWidth = Math.min(16, Math.max(7, ...stories.map((story) => stringWidth(plainLabel(story.battery, 16)))));
  const lines = [
    `${stories.length.toLocaleString("en")} ${stories.length === 1 ? "battery" : "batteries"} in ${plainLabel(context.store, 200)}, most concern first`,
    "",
    `${"battery".padEnd(idWidth)}  ${"status".padEnd(10)}  flights  last        course`,
  ];
  for (const story of stories) {
    const series = worstSeries(story);
    const id = padded(plainLabel(story.battery, 16), idWidth);
    if (!series) {
      lines.push(`${id}  ${"no reading".padEnd(10)}  ${String(story.flightCount).padStart(7)}`);
      continue;
    }
    const status = trendStatusText(series.judgement.status).padEnd(10);
    const last = series.points[series.points.length - 1]!;
    const row = `${id}  ${coloured(status, series, style)}  ${String(story.flightCount).padStart(7)}  ${dateText(last.atS)}  ${sparkLine(series, 20, style.ascii)}`;
    lines.push(row);
    if (story.concern.class >= 2) {
      for (const line of wrapped(concernText(series, story.battery), columns - idWidth - 2)) {
        lines.push(`${" ".repeat(idWidth + 2)}${line}`);
      }
    }
  }
  lines.push("", ...labelled("Caution", shortCautionText("advisory"), columns));
  if (style.reportPath !== undefined)
    lines.push(`${"Report".padEnd(LABEL_WIDTH)}${plainLabel(style.reportPath, 4096)}`);
  const text = `${lines.join("\n")}\n`;
  return style.ascii ? asciiText(text) : text;
}

/** The series that a battery's concern rests on. */
export function worstSeries(story: BatteryStory): SeriesTrend | null {
  const order = { alarm: 0, question: 1, steady: 2, gathering: 3 };
  const sorted = [...story.series].sort((a, b) => order[a.judgement.status] - order[b.judgement.status]);
  return sorted[0] ?? null;
}

function headOf(story: BatteryStory): string {
  const place = story.aircraft === null ? "" : `, ${plainLabel(story.aircraft)}`;
  const since = story.installedOn === null ? "" : `, installed ${story.installedOn}`;
  const retired = story.retiredOn === null ? "" : `, retired ${story.retiredOn}`;
  return `Battery ${plainLabel(story.battery)}${place}${since}${retired}: ${flightsText(story.flightCount)}`;
}

function seriesLines(
  series: SeriesTrend,
  story: BatteryStory,
  context: TrendContext,
  columns: number,
  style: TerminalStyle,
): string[] {
  const { judgement } = series;
  const title = seriesText(series);
  const status = coloured(trendStatusText(judgement.status).toUpperCase(), series, style);
  const part = (label: string, text: string) => labelled(label, text, columns);
  const main = series.unit === "Ohm" || judgement.status === "alarm" || judgement.status === "question";
  return [
    ...wrapped(`${title.charAt(0).toUpperCase()}${title.slice(1)}: ${status}`, columns),
    ...judgement.alarms.flatMap((alarm) => part("Alarm", alarmText(series, alarm))),
    ...(judgement.status === "alarm" ? part("Next", alarmRemedyText(series)) : []),
    ...judgement.questions.flatMap((question) => part("Question", questionText(series, question, story.battery))),
    ...part("Level", `${levelText(series)}.`),
    ...(main
      ? [
          ...plotLines(series, columns, style),
          ...part("Slope", slopeText(series)),
          ...part("Forecast", forecastText(series)),
          ...judgement.outlying.flatMap((outlying) => part("Apart", outlyingText(series, outlying))),
          ...(series.apart.length > 0 ? part("Left out", apartLine(series)) : []),
          ...(series.normalized && story.normalization ? part("Basis", normalizationText(story.normalization)) : []),
          ...(series.unit === "Ohm" && judgement.chart
            ? part("Limits", controlLimitText(series, context.fleetKnown))
            : []),
          ...part("Latest", latestFlights(series)),
        ]
      : []),
  ];
}

function plotLines(series: SeriesTrend, columns: number, style: TerminalStyle): string[] {
  if (series.points.length < FEWEST_TO_PLOT) return [];
  const plot = letterPlot(series, { columns: columns - 12, rows: PLOT_ROWS, ascii: style.ascii });
  return ["", ...plot, ...labelled("", plotKey(series), columns), ""];
}

function plotKey(series: SeriesTrend): string {
  const unit = { Ohm: "milliohms", A: "amperes", min: "minutes" }[series.unit];
  return `${unit}, oldest flight at the left${series.judgement.chart ? "; dashes: control limit, dots: baseline" : ""}`;
}

function apartLine(series: SeriesTrend): string {
  const reasons = [...new Set(series.apart.map((each) => each.reason))];
  return reasons
    .map((reason) => {
      const count = series.apart.filter((each) => each.reason === reason).length;
      return `${flightsText(count)}: ${apartText(reason)}`;
    })
    .join("; ");
}

function latestFlights(series: SeriesTrend): string {
  const latest = series.points.slice(-LATEST_FLIGHTS);
  return latest.map((point) => `${dateText(point.atS)}\u00a0${valueText(series, point)}`).join(", ");
}

function coloured(text: string, series: SeriesTrend, style: TerminalStyle): string {
  return style.colour ? `\u001b[${COLOURS[series.judgement.status]}m${text}\u001b[0m` : text;
}

function labelled(label: string, text: string, columns: number): string[] {
  return wrapped(text, columns - LABEL_WIDTH).map(
    (line, index) => `${(index === 0 ? label : "").padEnd(LABEL_WIDTH)}${line}`,
  );
}

/** Breaks at spaces, never inside a figure. */
function wrapped(text: string, columns: number): string[] {
  const lines: string[] = [];
  for (const word of unbrokenFigures(text).split(" ")) {
    const last = lines[lines.length - 1];
    if (last !== undefined && stringWidth(`${last} ${word}`) <= columns) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines.map((line) => line.replaceAll("\u00a0", " "));
}

function padded(text: string, width: number): string {
  return text + " ".repeat(Math.max(0, width - stringWidth(text)));
}
