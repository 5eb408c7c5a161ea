import type { SeriesTrend } from "../core/index.js";
import type { BatteryStory, TrendContext } from "./trend-context.js";
import {
  alarmText,
  concernText,
  forecastText,
  levelText,
  normalizationText,
  outlyingText,
  questionText,
  seriesText,
  slopeText,
} from "./trend-messages.js";
import { worstSeries } from "./trend-terminal.js";

export const TREND_SCHEMA_NAME = "busdip-trend/1";

const moment = (atS: number) => new Date(1000 * atS).toISOString();

/** The trend for programs, contract `busdip-trend/1`: resistances in milliohms, currents in A, endurance in min. */
export function trendJson(stories: readonly BatteryStory[], context: TrendContext) {
  return {
    schema: TREND_SCHEMA_NAME,
    generator: { name: "busdip", version: context.softwareVersion, madeAt: context.madeAt },
    store: context.store,
    batteries: stories.map((story, index) => {
      const worst = worstSeries(story);
      return {
        battery: story.battery,
        aircraft: story.aircraft,
        installedOn: story.installedOn,
        retiredOn: story.retiredOn,
        flights: story.flightCount,
        rank: index + 1,
        concern: story.concern.class,
        normalization: story.normalization && { ...story.normalization, text: normalizationText(story.normalization) },
        text: worst === null ? null : concernText(worst, story.battery),
        series: story.series.map((series) => seriesJson(series, story.battery)),
      };
    }),
  };
}

function seriesJson(series: SeriesTrend, battery: string) {
  const { judgement } = series;
  const { chart, forecast, slope } = judgement;
  const factor = series.unit === "Ohm" ? 1e3 : 1;
  const sign = series.worse === "up" ? 1 : -1;
  const scaled = (value: number) => factor * value;
  return {
    quantity: series.quantity,
    text: seriesText(series),
    load: series.load,
    unit: series.unit === "Ohm" ? "mOhm" : series.unit,
    normalized: series.normalized,
    afterSeconds: series.afterS,
    worse: series.worse,
    status: judgement.status,
    points: series.points.map((point, index) => ({
      at: moment(point.atS),
      value: scaled(point.value),
      u: scaled(point.u),
      recording: point.hash,
      report: point.report,
      average: chart && index >= chart.firstFlight ? scaled(chart.average[index - chart.firstFlight]!) : null,
      cusum: chart && index >= chart.firstFlight ? chart.sum[index - chart.firstFlight]! : null,
    })),
    apart: series.apart.map(({ reading, reason }) => ({
      at: moment(reading.atS),
      value: scaled(reading.value),
      u: scaled(reading.u),
      recording: reading.hash,
      reason,
    })),
    baseline: chart && {
      value: scaled(chart.baseline),
      flights: chart.baselineFlights,
      scatter: chart.sigma,
      correlation: chart.phi,
    },
    controlLimit: chart && { average: scaled(chart.averageLimit), cusum: chart.sumLimit },
    baselineWanting: judgement.baselineWanting,
    level: judgement.level && {
      value: scaled(judgement.level.value),
      u: scaled(judgement.level.u),
      low: scaled(judgement.level.low),
      high: scaled(judgement.level.high),
      coverage: 0.95,
      flights: judgement.level.flightCount,
      text: levelText(series),
    },
    change: judgement.change,
    limit: judgement.limit === null ? null : scaled(judgement.limit),
    slope:
      slope === null
        ? null
        : slope.known
          ? {
              known: true,
              perFlight: sign * slope.perFlight,
              low: Math.min(sign * slope.low, sign * slope.high),
              high: Math.max(sign * slope.low, sign * slope.high),
              pValue: slope.test.pValue,
              text: slopeText(series),
            }
          : { known: false, moreFlights: slope.moreFlights, text: slopeText(series) },
    forecast:
      forecast === null
        ? null
        : forecast.known
          ? {
              known: true,
              at: moment(forecast.at),
              low: moment(forecast.low),
              high: moment(forecast.high),
              coverage: forecast.coverage,
              text: forecastText(series),
            }
          : {
              known: false,
              reason: forecast.reason,
              notBefore: forecast.notBefore === null ? null : moment(forecast.notBefore),
              moreFlights: forecast.moreFlights,
              text: forecastText(series),
            },
    alarms: judgement.alarms.map((alarm) => ({ ...alarm, text: alarmText(series, alarm) })),
    questions: judgement.questions.map((question) => ({ ...question, text: questionText(series, question, battery) })),
    outlying: judgement.outlying.map((outlying) => ({ ...outlying, text: outlyingText(series, outlying) })),
  };
}
