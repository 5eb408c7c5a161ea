import type { SeriesTrend } from "../core/index.js";
import type { Figure } from "./figures/figure.js";
import { trendChart } from "./figures/trend-chart.js";
import { plainLabel } from "./label-text.js";
import type { BatteryStory, TrendContext } from "./trend-context.js";
import {
  alarmRemedyText,
  alarmText,
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
import { worstSeries } from "./trend-terminal.js";

/** Cautions of every trend record. */
export const TREND_CAUTIONS = ["advisory", "battery-falls"] as const;

/** Charts of a fleet's record: those that ask for attention, no more than this. */
const MOST_CHARTS = 12;

/** The answer on one battery, and what else there is to say about it. */
export function batteryAnswerWords(story: BatteryStory): {
  readonly headline: string;
  readonly further: readonly string[];
} {
  const worst = worstSeries(story);
  const headline =
    worst === null ? "No flight tells a resistance, an endurance or a current yet." : concernText(worst, story.battery);
  const sentences = story.series.flatMap((series) => [
    ...series.judgement.alarms.map((alarm) => alarmText(series, alarm)),
    ...(series.judgement.status === "alarm" ? [alarmRemedyText(series)] : []),
    ...series.judgement.questions.map((question) => questionText(series, question, story.battery)),
    ...series.judgement.outlying.map((outlying) => outlyingText(series, outlying)),
  ]);
  return { headline, further: sentences.filter((sentence) => sentence !== headline) };
}

/** What was judged of one series, as terms and facts. */
export function judgementFacts(
  series: SeriesTrend,
  story: BatteryStory,
  context: TrendContext,
): readonly (readonly [string, string])[] {
  const limits = controlLimitText(series, context.fleetKnown);
  return [
    ["Status", trendStatusText(series.judgement.status)],
    ["Level", levelText(series)],
    ["Slope", slopeText(series)],
    ["Forecast", forecastText(series)],
    ...(limits === "" ? [] : [["Control limits", limits] as const]),
    ...(series.normalized && story.normalization ? [["Basis", normalizationText(story.normalization)] as const] : []),
  ];
}

/** What a series is of, as a heading. */
export function seriesTitle(series: SeriesTrend): string {
  const title = seriesText(series);
  return title.charAt(0).toUpperCase() + title.slice(1);
}

/** The charts of one battery. */
export function batteryFigures(story: BatteryStory): readonly Figure[] {
  return story.series.map((series, index) => trendChart(series, `trend-${index + 1}`));
}

/** Batteries that ask for attention. */
export function concernedStories(stories: readonly BatteryStory[]): readonly BatteryStory[] {
  return stories.filter((story) => story.concern.class >= 2 && worstSeries(story) !== null);
}

/** The charts of the batteries that ask for attention. */
export function fleetFigures(concerned: readonly BatteryStory[]): readonly Figure[] {
  return concerned.slice(0, MOST_CHARTS).map((story, index) => {
    const figure = trendChart(worstSeries(story)!, `trend-${index + 1}`);
    return { ...figure, title: `Battery ${plainLabel(story.battery)}: ${figure.title}` };
  });
}

export function fleetTitle(stories: readonly BatteryStory[]): string {
  return `${stories.length.toLocaleString("en")} ${stories.length === 1 ? "battery" : "batteries"}`;
}

/** The whole fleet in one sentence. */
export function fleetHeadline(stories: readonly BatteryStory[]): string {
  const alarms = stories.filter((story) => story.concern.class >= 4).length;
  const questions = stories.filter((story) => story.concern.class === 2).length;
  const soon = stories.filter((story) => story.concern.class === 3).length;
  const parts = [
    alarms === 0 ? "No alarm stands" : `An alarm stands for ${alarms} of ${fleetTitle(stories)}`,
    ...(soon === 0 ? [] : [`${soon} more may reach the limit within a year`]),
    ...(questions === 0
      ? []
      : [`${questions === 1 ? "one question asks" : `${questions} questions ask`} for an answer`]),
  ];
  return `${parts.join("; ")}.`;
}

/** One row for each battery. */
export function fleetTable(stories: readonly BatteryStory[]): Figure["table"] {
  return {
    head: ["Battery", "Aircraft", "Flights", "Status", "Level", "Forecast"],
    rows: stories.map((story) => {
      const series = worstSeries(story);
      const facts =
        series === null
          ? ["no reading", "", ""]
          : [trendStatusText(series.judgement.status), shortLevel(series), forecastText(series)];
      return [plainLabel(story.battery), plainLabel(story.aircraft ?? ""), String(story.flightCount), ...facts];
    }),
  };
}

function shortLevel(series: SeriesTrend): string {
  return series.judgement.level === null ? "" : valueText(series, series.judgement.level);
}

/** How many flights, from when to when. */
export function flightSpan(story: BatteryStory): string {
  const times = story.series.flatMap((series) => series.points.map((point) => point.atS));
  if (times.length === 0) return `${flightsText(story.flightCount)}.`;
  return `${flightsText(story.flightCount)}, ${dateText(Math.min(...times))} to ${dateText(Math.max(...times))}.`;
}
