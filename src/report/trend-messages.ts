import type {
  ApartReason,
  LimitForecast,
  NormalizationNote,
  SeriesTrend,
  ShareChange,
  TrendAlarm,
  TrendQuestion,
  TrendStatus,
} from "../core/index.js";
import { plainLabel } from "./label-text.js";
import { formatPlain, formatQuantity } from "./number-format.js";

/** Status as people read it first. */
export function trendStatusText(status: TrendStatus): string {
  switch (status) {
    case "alarm":
      return "alarm";
    case "question":
      return "question";
    case "steady":
      return "in control";
    case "gathering":
      return "too early";
  }
}

/** What a series follows, such as `internal resistance, 1 s after the step, as measured`. */
export function seriesText(series: SeriesTrend): string {
  const after = series.afterS === null ? "" : `, ${formatPlain(series.afterS, "s")} after the step`;
  switch (series.quantity) {
    case "internal-resistance":
      return `internal resistance${after}, ${series.normalized ? "at the reference temperature and charge" : "as measured"}`;
    case "source-resistance":
      return `source resistance as seen at the meter${after}, as measured`;
    case "endurance":
      return "endurance";
    case "load-current":
      return `current of ${plainLabel(series.load ?? "a load")}`;
  }
}

/** A moment as its date, UTC. */
export function dateText(atS: number): string {
  return new Date(1000 * atS).toISOString().slice(0, 10);
}

/** Flight `index` of a series by its date. */
function flightText(series: SeriesTrend, index: number): string {
  const point = series.points[Math.min(index, series.points.length - 1)]!;
  return `the flight of ${dateText(point.atS)}`;
}

/** A value of the series with its 95 % interval. */
export function valueText(
  series: SeriesTrend,
  quantity: { value: number; u: number; low?: number; high?: number },
): string {
  const { value, u, low = value - 1.96 * u, high = value + 1.96 * u } = quantity;
  return formatQuantity(
    { value, u, low, high, unit: series.unit, coverage: 0.95, route: "readings" },
    { form: "compact" },
  );
}

/** A change with its 95 % interval, such as `+34 % (+26 to +43 %)`. */
function changeText(change: ShareChange): string {
  const whole = (share: number) => {
    const digits = Math.abs(100 * share).toFixed(0);
    return digits === "0" ? "0" : `${share < 0 ? "\u2212" : "+"}${digits}`;
  };
  return `${whole(change.value)} % (${whole(change.low)} to ${whole(change.high)} %)`;
}

/** Present level against the baseline. */
export function levelText(series: SeriesTrend): string {
  const { level, chart, change, baselineWanting, baselineFlights } = series.judgement;
  if (!level) return "no reading yet";
  const now = `${valueText(series, level)} now (mean of ${level.flightCount === 1 ? "one flight" : `the last ${level.flightCount} flights`})`;
  if (!chart || !change) {
    return `${now}; the baseline takes ${baselineFlights} flights, ${baselineWanting} more ${baselineWanting === 1 ? "is" : "are"} needed`;
  }
  const uBaseline = (chart.baseline * chart.sigma) / Math.sqrt(baselineFlights);
  return `${now}, ${changeText(change)} against the baseline of ${valueText(series, { value: chart.baseline, u: uBaseline })}`;
}

/** Why an alarm stands, in one sentence. */
export function alarmText(series: SeriesTrend, alarm: TrendAlarm): string {
  const what = plainQuantity(series);
  switch (alarm.code) {
    case "level-worse": {
      const { chart } = series.judgement;
      const onset =
        alarm.onset < alarm.flight
          ? `, and seems to have begun to ${verb(series)} with ${flightText(series, alarm.onset)}`
          : "";
      const back = alarm.standing ? "" : "; it has come back since";
      const limit = chart ? ` of ${formatPlain(chart.averageLimit, series.unit)}` : "";
      return `The moving average of the ${what} passed its control limit${limit} with ${flightText(series, alarm.flight)}${onset}${back}.`;
    }
    case "limit-reached":
      return alarm.sure
        ? `The ${what} has reached the limit of ${formatPlain(alarm.limit, series.unit)}.`
        : `The ${what} has probably reached the limit of ${formatPlain(alarm.limit, series.unit)}; its interval still reaches across.`;
  }
}

/** What to do about an alarm; it never decides airworthiness. */
export function alarmRemedyText(series: SeriesTrend): string {
  switch (series.quantity) {
    case "internal-resistance":
    case "source-resistance":
      return "Look at terminals and straps first, then have the capacity checked as the battery's manual says.";
    case "endurance":
      return "Have the capacity checked as the battery's manual says before relying on it.";
    case "load-current":
      return "A heater whose current falls may have an element going open; have the load checked as its manual says.";
  }
}

/** A change for the better that nobody logged, put as a question with the command that answers it. */
export function questionText(series: SeriesTrend, question: TrendQuestion, battery: string): string {
  const from = flightText(series, question.firstFlight);
  const change = `${plainQuantity(series)} changed by ${changeText(question.change)} from ${from} on`;
  if (series.quantity === "load-current") return `The ${change}: was the load or its wiring worked on?`;
  return `The ${change}: was the battery exchanged, or a terminal cleaned? If it was, say so with busdip history install (the same number: busdip history install ${plainLabel(battery)} --new-life). The baseline starts anew there.`;
}

/** A flight that stands apart. */
export function outlyingText(series: SeriesTrend, outlying: { flight: number; change: number }): string {
  const reading = series.points[outlying.flight]!;
  const high = outlying.change > 0 === (series.worse === "up");
  const cause =
    series.unit === "Ohm" && high ? "a loose terminal makes such a reading" : "look at that flight's own report";
  return `${capital(flightText(series, outlying.flight))} stands apart with ${valueText(series, reading)}: ${cause}; it moves the average no more than any other flight.`;
}

/** The slope, or how many flights would tell it. */
export function slopeText(series: SeriesTrend): string {
  const { slope } = series.judgement;
  if (slope === null) return "not worked out in this view";
  if (!slope.known) return `${unknownSlopeText(slope)}${courseSoFarText(series, slope)}`;
  const sign = series.worse === "up" ? 1 : -1;
  const overTen = (perFlight: number) => 100 * (Math.exp(10 * sign * perFlight) - 1);
  const [low, high] = [overTen(slope.low), overTen(slope.high)].sort((a, b) => a - b) as [number, number];
  const signed = (percent: number) => `${percent < 0 ? "\u2212" : "+"}${Math.abs(percent).toFixed(1)}`;
  const p = slope.test.pValue < 0.001 ? "p under 0.001" : `p = ${slope.test.pValue.toFixed(3)}`;
  return `${signed(overTen(slope.perFlight))} % per 10 flights (${signed(low)} to ${signed(high)} %; Theil-Sen; Mann-Kendall ${p})`;
}

type UnknownSlope = Extract<NonNullable<SeriesTrend["judgement"]["slope"]>, { known: false }>;

function unknownSlopeText({ moreFlights, earliestMoreFlights }: UnknownSlope): string {
  const more = (count: number) => `${count} more flight${count === 1 ? "" : "s"}`;
  if (earliestMoreFlights === 0 || moreFlights <= earliestMoreFlights)
    return `cannot tell yet: about ${more(moreFlights)} would tell`;
  return `cannot tell yet: a steep one shows after ${more(earliestMoreFlights)}, a slow one after about ${moreFlights}`;
}

/** Below this chance a course of flights is told though they are too few for a slope. */
const PLAIN_COURSE = 0.05;

/** That the flights rise or fall all the same, where they do: nobody should read "cannot tell" as "steady". */
function courseSoFarText(series: SeriesTrend, { soFar }: UnknownSlope): string {
  if (soFar === null || soFar.pValue >= PLAIN_COURSE) return "";
  const { points, worse } = series;
  // The test's readings are turned so that up is worse.
  const gets = soFar.s > 0 === (worse === "up") ? "rise" : "fall";
  const from = points[series.judgement.regimeStart]!;
  const p = soFar.pValue < 0.001 ? "p under 0.001" : `p = ${soFar.pValue.toFixed(3)}`;
  return `. So far they ${gets}, from ${valueText(series, from)} to ${valueText(series, points[points.length - 1]!)} (Mann-Kendall ${p} if flights did not resemble each other); "cannot tell" does not mean steady`;
}

/** "1 flight" or "12 flights". */
export function flightsText(count: number): string {
  return `${count.toLocaleString("en")} flight${count === 1 ? "" : "s"}`;
}

/** When the limit is reached, or why that cannot be told. */
export function forecastText(series: SeriesTrend): string {
  const { forecast, limit } = series.judgement;
  if (limit === null)
    return series.judgement.chart ? "no limit is set" : "the limit follows from the baseline, which is not complete";
  const reached = `limit of ${formatPlain(limit, series.unit)}`;
  const alarm = series.judgement.alarms.find(({ code }) => code === "limit-reached");
  if (alarm?.code === "limit-reached" && !forecast?.known) {
    return `${reached} ${alarm.sure ? "is reached" : "is probably reached"} by now`;
  }
  if (forecast === null) return `${reached}: the level does not move towards it${beyondText(series, limit)}`;
  if (forecast.known && forecast.at <= lastAtS(series)) {
    const word = forecast.high <= lastAtS(series) ? "was probably reached" : "may be reached by now:";
    return `${reached} ${word} about ${dateText(forecast.at)} (95 %: ${dateText(forecast.low)} to ${dateText(forecast.high)})`;
  }
  if (forecast.known)
    return `${reached} about ${dateText(forecast.at)} (95 %: ${dateText(forecast.low)} to ${dateText(forecast.high)})`;
  return `${reached}: ${unknownForecastText(forecast, lastAtS(series))}${beyondText(series, limit)}`;
}

/** That the newest flight lies beyond a limit which the level, a mean of several, has not reached. */
function beyondText(series: SeriesTrend, limit: number): string {
  const newest = series.points[series.points.length - 1]!;
  const beyond = series.worse === "up" ? newest.value - limit : limit - newest.value;
  if (!(beyond > 0)) return "";
  return `; the newest flight, ${valueText(series, newest)}, ${beyond > 1.96 * newest.u ? "lies" : "may lie"} beyond it`;
}

function unknownForecastText(forecast: Extract<LimitForecast, { known: false }>, lastAtS: number): string {
  // A limit that the last flight may be beyond already is not still to come.
  const isAhead = forecast.notBefore !== null && forecast.notBefore > lastAtS;
  const before = isAhead ? `, not before ${dateText(forecast.notBefore!)}` : "";
  switch (forecast.reason) {
    case "too-few-flights": {
      const more = forecast.moreFlights ?? 1;
      return `cannot tell yet; about ${more} more flight${more === 1 ? "" : "s"} at this rate would tell${before}`;
    }
    case "no-rise":
      return `cannot tell; the level does not move towards it${before}`;
    case "too-far-ahead":
      return `further ahead than these flights can tell${before}`;
  }
}

/** What the chart's limit means. */
export function controlLimitText(series: SeriesTrend, fleetKnown: boolean): string {
  const { chart } = series.judgement;
  if (!chart) return "";
  const scatter = `Flights scatter by ${(100 * chart.sigma).toFixed(chart.sigma < 0.1 ? 1 : 0)} % about the baseline (${fleetKnown && series.unit === "Ohm" ? "told by the whole fleet" : `told by its ${chart.baselineFlights} flights`}) and resemble each other with a correlation of ${chart.phi.toFixed(1)}.`;
  return `${scatter} The limits are set by simulation for that: of a hundred batteries that do not change, at most 18 are called within their first 100 flights, half of them not within 400.`;
}

/** How the resistances were brought to the reference temperature and charge. */
export function normalizationText(note: NormalizationNote): string {
  const { temperatureK, emptyRise, origin } = note.coefficients;
  const whose =
    origin === "fitted"
      ? "told by this battery's own flights"
      : `general guide values for ${note.chemistry}, no measurement of this battery`;
  const charge =
    note.chargeAssumedCount === 0
      ? ""
      : ` The charge of ${note.chargeAssumedCount} of ${flightsText(note.flightCount)} was not told and was taken as 0.9 \u00b1 0.2.`;
  return `Brought to 20 \u00b0C and full charge with R = R_ref exp(B (1/T \u2212 1/T_ref)), B = ${temperatureK.value} K (u = ${temperatureK.u} K), and +${Math.round(100 * emptyRise.value)} % (u = ${Math.round(100 * emptyRise.u)} %) from full to empty: ${whose}.${charge}`;
}

/** Why a reading is shown apart from the trend. */
export function apartText(reason: ApartReason): string {
  switch (reason) {
    case "not-normalized":
      return "temperature or charge unknown, so it cannot be brought to the reference";
    case "normalized":
      return "the other flights are as measured";
    case "other-time":
      return "taken at another time after the step";
    case "other-quantity":
      return "path resistance unknown, so it is not the battery's alone";
    case "without-uncertainty":
      return "its uncertainty is missing";
  }
}

/** One line that says most about a series. */
export function concernText(series: SeriesTrend, battery: string): string {
  const { alarms, questions, status } = series.judgement;
  const standing = alarms.filter((alarm) => alarm.code === "limit-reached" || alarm.standing);
  const reached = standing.find((alarm) => alarm.code === "limit-reached");
  if (reached) return alarmText(series, reached);
  if (standing[0]) return alarmText(series, standing[0]);
  const question = questions[questions.length - 1];
  if (status === "question" && question) return questionText(series, question, battery);
  return `${capital(plainQuantity(series))}: ${levelText(series)}.`;
}

function lastAtS(series: SeriesTrend): number {
  return series.points[series.points.length - 1]!.atS;
}

function plainQuantity(series: SeriesTrend): string {
  return series.quantity === "load-current"
    ? `current of ${plainLabel(series.load ?? "a load")}`
    : series.quantity.replace("-", " ");
}

function verb(series: SeriesTrend): string {
  return series.worse === "up" ? "rise" : "fall";
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
