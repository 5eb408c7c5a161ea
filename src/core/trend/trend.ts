import type { Uncertain } from "../quantity/quantity.js";
import { studentTQuantile } from "../statistics/distribution.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { median } from "../statistics/quantile.js";
import { worseSince } from "./change-date.js";
import { firstBeyond } from "./control-chart.js";
import { controlLimit, FALSE_CALL_RATE, type LimitConditions, QUESTION_RATE } from "./control-limit.js";
import { varianceOfMean } from "./flight-correlation.js";
import { type LimitForecast, limitForecast } from "./forecast.js";
import { type FleetScatter, type LevelShift, type Regime, regimesOf } from "./regime.js";
import { type FlightSlope, flightSlope } from "./slope.js";
import { weightedLevel } from "./weighted-level.js";

/** Quantities that are followed from flight to flight. */
export type TrendQuantity = "internal-resistance" | "source-resistance" | "load-current" | "endurance";

/** One flight's reading, in the SI unit of its quantity; `u` is its standard uncertainty. */
export interface TrendPoint extends Uncertain {
  /** Seconds since 1970-01-01 UTC. */
  readonly atS: number;
}

export interface TrendRequest {
  /** In the order of time, all of one life of one battery. */
  readonly points: readonly TrendPoint[];
  readonly worse: "up" | "down";
  readonly limit?: TrendLimit;
  /** Flights that set the baseline; default 20. */
  readonly baselineFlights?: number;
  readonly fleet?: FleetScatter;
  /** Share of batteries in control that may be called within their first hundred flights; default 0.17. */
  readonly falseCallRate?: number;
  /** The same for questions asked in vain; default 0.18. */
  readonly questionRate?: number;
  /** Leave slope and forecast out where the moving average is less than half way to its limit. */
  readonly brief?: boolean;
}

/** A limit in the unit of the quantity, or a share of the baseline (0.2: a fifth worse). */
export type TrendLimit = { readonly value: number } | { readonly worseBy: number };

export type TrendStatus = "alarm" | "question" | "steady" | "gathering";

/** Why an alarm stands; the sentence for it stands in the report. */
export type TrendAlarm =
  | {
      readonly code: "level-worse";
      /** Flight at which the moving average passed its limit, and the one from which the level seems to have moved. */
      readonly flight: number;
      readonly onset: number;
      /** Whether the average is still beyond its limit at the last flight. */
      readonly standing: boolean;
    }
  | { readonly code: "limit-reached"; readonly limit: number; readonly sure: boolean };

/** A change for the better that no logged work explains: was the battery exchanged, a terminal cleaned? */
export interface TrendQuestion {
  readonly code: "level-better";
  readonly firstFlight: number;
  readonly foundAt: number;
  /** New level against the old one. */
  readonly change: ShareChange;
}

/** A change as a share of what it is measured from, with its 95 % interval. */
export interface ShareChange {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** The chart since the last change of level; arrays start at flight `firstFlight`. */
export interface TrendChart {
  readonly firstFlight: number;
  readonly baselineFlights: number;
  readonly baseline: number;
  /** Scatter of one flight, relative. */
  readonly sigma: number;
  readonly phi: number;
  /** Moving average and its limit, in the unit of the quantity. */
  readonly average: Float64Array;
  readonly averageLimit: number;
  /** Cumulative sum and its limit, in scatters. */
  readonly sum: Float64Array;
  readonly sumLimit: number;
}

export interface TrendJudgement {
  readonly status: TrendStatus;
  readonly alarms: readonly TrendAlarm[];
  readonly questions: readonly TrendQuestion[];
  /** Flights that stand apart from their neighbours and are given no more weight than others. */
  readonly outlying: readonly { readonly flight: number; readonly change: number }[];
  /** First flight since the last change of level. */
  readonly regimeStart: number;
  readonly baselineFlights: number;
  /** Flights still wanting for the baseline; 0 once it is complete. */
  readonly baselineWanting: number;
  readonly chart: TrendChart | null;
  /** Weighted mean of the newest flights but for outlying ones; null without flights. */
  readonly level: (Uncertain & { readonly low: number; readonly high: number; readonly flightCount: number }) | null;
  /** Present level against the baseline; null before there is one. */
  readonly change: ShareChange | null;
  readonly limit: number | null;
  /** Null where it was left out. */
  readonly slope: FlightSlope | null;
  /** Moments in seconds since 1970-01-01 UTC. */
  readonly forecast: LimitForecast | null;
}

/** Flights whose level and scatter the later ones are held against. */
export const BASELINE_FLIGHTS = 20;
/** Flights in the present level. */
const LEVEL_FLIGHTS = 8;
/** A flight this many scatters from the middle of its neighbours, three on either side, stands apart. */
const OUTLYING = 4;
const NEIGHBOURS = 3;

/**
 * Judges one quantity of one life of a battery: level, alarms, questions, slope and forecast.
 *
 * Works on logarithms, so changes are shares of the level. An alarm stands when the moving average (EWMA) of the flights
 * since the baseline passes a limit set by simulation for the record's own correlation and baseline length.
 *
 * Source: Roberts 1959, Technometrics 1 (the moving average), Page 1954, Biometrika 41 (the sum), both from memory.
 * @throws RangeError for a reading or an uncertainty that is not positive, or moments out of order
 */
export function judgeTrend(request: TrendRequest): TrendJudgement {
  checkPoints(request.points);
  const { points } = request;
  const sign = request.worse === "up" ? 1 : -1;
  const baselineFlights = request.baselineFlights ?? BASELINE_FLIGHTS;
  const logs = Float64Array.from(points, (point) => sign * logarithm(point.value));
  const falseCallRate = request.falseCallRate ?? FALSE_CALL_RATE;
  const { fleet } = request;
  const { regimes, shifts } = regimesOf(logs, {
    baselineFlights,
    questionRate: request.questionRate ?? QUESTION_RATE,
    ...(fleet ? { fleet } : {}),
    ...(points.length > 0 ? { statedSigma: median(Float64Array.from(points, ({ value, u }) => u / value)) } : {}),
  });
  const regime = regimes[regimes.length - 1];
  const chart = regime.charts
    ? trendChart(regime, sign, { baselineFlights, falseCallRate, sigmaKnown: fleet !== undefined })
    : null;
  const limit = limitOf(request.limit, chart, sign);
  const outlying = regimes.flatMap((each) => outlyingFlights(each, sign));
  const apart = new Set(outlying.map((each) => each.flight));
  const level = presentLevel(
    points.filter((_, flight) => flight >= regime.start && !apart.has(flight)),
    regime.phi,
  );
  const alarms = [...chartAlarms(regime, chart, sign), ...limitAlarms(level, limit, sign)];
  const questions = shifts.map((shift) => questionOf(shift, sign));
  return {
    status: statusOf(alarms, questions, points.length, chart !== null),
    alarms,
    questions,
    outlying,
    regimeStart: regime.start,
    baselineFlights,
    baselineWanting: chart ? 0 : baselineFlights - (regime.end - regime.start),
    chart,
    level,
    change: level && chart ? changeOf(level, chart) : null,
    limit,
    slope: request.brief ? null : flightSlope(logs.subarray(regime.start)),
    forecast:
      limit === null || (request.brief && calm(chart))
        ? null
        : limitForecast({
            moments: points.slice(regime.start).map((point) => point.atS),
            logReadings: logs.subarray(regime.start),
            logLimit: sign * logarithm(limit),
          }),
  };
}

/** Whether the moving average is less than half way from the baseline to its limit. */
function calm(chart: TrendChart | null): boolean {
  if (!chart || chart.average.length === 0) return true;
  const last = chart.average[chart.average.length - 1];
  return logarithm(last / chart.baseline) / logarithm(chart.averageLimit / chart.baseline) < 0.5;
}

function checkPoints(points: readonly TrendPoint[]): void {
  points.forEach((point, index) => {
    if (!(point.value > 0) || !(point.u > 0)) {
      throw new RangeError(
        `Cannot judge a trend: values and uncertainties must be positive, got ${point.value}, u ${point.u}`,
      );
    }
    if (index > 0 && point.atS < points[index - 1].atS) {
      throw new RangeError(`Cannot judge a trend: flights must be in the order of time, flight ${index} is not`);
    }
  });
}

function trendChart(regime: Regime, sign: number, settings: Omit<LimitConditions, "phi">): TrendChart {
  const { baselineFlights } = settings;
  const charts = regime.charts!;
  const { mean, sigma } = charts.baseline;
  const conditions = { ...settings, phi: regime.phi };
  const inUnit = (scatters: number) => exponential(sign * (mean + sigma * scatters));
  return {
    firstFlight: regime.start + baselineFlights,
    baselineFlights,
    baseline: inUnit(0),
    sigma,
    phi: regime.phi,
    average: charts.ewma.map(inUnit),
    averageLimit: inUnit(controlLimit("ewma", conditions)),
    sum: charts.cusum,
    sumLimit: controlLimit("cusum", conditions),
  };
}

function limitOf(limit: TrendLimit | undefined, chart: TrendChart | null, sign: number): number | null {
  if (limit === undefined) return null;
  if ("value" in limit) return limit.value;
  return chart ? chart.baseline * (1 + sign * limit.worseBy) : null;
}

function presentLevel(points: readonly TrendPoint[], phi: number): TrendJudgement["level"] {
  const newest = points.slice(-LEVEL_FLIGHTS);
  if (newest.length === 0) return null;
  const count = newest.length;
  const mean = weightedLevel(newest.map((point) => ({ value: logarithm(point.value), u: point.u / point.value })));
  const u = mean.u * Math.sqrt(count * varianceOfMean(count, phi));
  const reach = (count > 1 ? studentTQuantile(0.975, count - 1) : 2) * u;
  const value = exponential(mean.value);
  return {
    value,
    u: value * u,
    low: exponential(mean.value - reach),
    high: exponential(mean.value + reach),
    flightCount: count,
  };
}

/** By the flights' own scatter, since what is wrong with all of them alike cancels. */
function changeOf(level: NonNullable<TrendJudgement["level"]>, chart: TrendChart): ShareChange {
  const variance = varianceOfMean(level.flightCount, chart.phi) + varianceOfMean(chart.baselineFlights, chart.phi);
  return shareChange(logarithm(level.value / chart.baseline), chart.sigma * Math.sqrt(variance));
}

function shareChange(logChange: number, u: number): ShareChange {
  return {
    value: exponential(logChange) - 1,
    low: exponential(logChange - 1.96 * u) - 1,
    high: exponential(logChange + 1.96 * u) - 1,
  };
}

function chartAlarms(regime: Regime, chart: TrendChart | null, sign: number): TrendAlarm[] {
  if (!chart || !regime.charts) return [];
  const beyond = (level: number) => sign * (level - chart.averageLimit) > 0;
  const first = firstBeyond(
    chart.average.map((level) => sign * level),
    sign * chart.averageLimit,
  );
  if (first === null) return [];
  const last = chart.average[chart.average.length - 1];
  return [
    {
      code: "level-worse",
      flight: chart.firstFlight + first,
      onset: onsetOf(regime, chart, chart.firstFlight + first),
      standing: beyond(last),
    },
  ];
}

/** From the level fit, or where that sees no change from the last flight at which the cumulative sum was zero. */
function onsetOf(regime: Regime, chart: TrendChart, alarmFlight: number): number {
  const { z, cusum } = regime.charts!;
  const since = worseSince(z, regime.phi);
  if (since !== null && since > 0 && regime.start + since <= alarmFlight) return regime.start + since;
  let onset = alarmFlight - chart.firstFlight;
  while (onset > 0 && cusum[onset - 1] > 0) onset--;
  return chart.firstFlight + onset;
}

function limitAlarms(level: TrendJudgement["level"], limit: number | null, sign: number): TrendAlarm[] {
  if (!level || limit === null || sign * (level.value - limit) < 0) return [];
  const near = sign > 0 ? level.low : level.high;
  return [{ code: "limit-reached", limit, sure: sign * (near - limit) >= 0 }];
}

function questionOf(shift: LevelShift, sign: number): TrendQuestion {
  return {
    code: "level-better",
    firstFlight: shift.firstFlight,
    foundAt: shift.foundAt,
    change: shareChange(sign * shift.change, shift.uChange),
  };
}

/** Flights far off their neighbours on either side, so that a rise is not taken for outliers. */
function outlyingFlights(regime: Regime, sign: number): { flight: number; change: number }[] {
  const { charts } = regime;
  if (!charts) return [];
  const { z, baseline } = charts;
  const found: { flight: number; change: number }[] = [];
  z.forEach((own, index) => {
    const start = Math.max(0, index - NEIGHBOURS);
    const neighbours = Float64Array.of(...z.subarray(start, index), ...z.subarray(index + 1, index + 1 + NEIGHBOURS));
    if (Math.abs(own - median(neighbours)) > OUTLYING) {
      found.push({ flight: regime.start + index, change: exponential(sign * baseline.sigma * own) - 1 });
    }
  });
  return found;
}

function statusOf(
  alarms: readonly TrendAlarm[],
  questions: readonly TrendQuestion[],
  flightCount: number,
  charted: boolean,
): TrendStatus {
  if (alarms.some((alarm) => alarm.code === "limit-reached" || alarm.standing)) return "alarm";
  // A question is put while the new level is fresh; later it stays in the list.
  if (questions.some((question) => flightCount - question.foundAt <= BASELINE_FLIGHTS)) return "question";
  return charted ? "steady" : "gathering";
}
