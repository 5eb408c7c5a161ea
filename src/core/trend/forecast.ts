import { lagOneAutocorrelation } from "../statistics/autocorrelation.js";
import { studentTQuantile } from "../statistics/distribution.js";
import { power, squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";
import { correlationFactor, flightCorrelation } from "./flight-correlation.js";

/** When the level reaches a limit, or why that cannot be told yet. Moments in the unit of the caller's. */
export type LimitForecast =
  | {
      readonly known: true;
      readonly at: number;
      readonly low: number;
      readonly high: number;
      readonly coverage: number;
    }
  | {
      readonly known: false;
      readonly reason: "too-few-flights" | "no-rise" | "too-far-ahead";
      /** The limit is not reached before this moment; null where even that cannot be told. */
      readonly notBefore: number | null;
      /** Flights more, at the same rate, that would tell; null where the level does not rise. */
      readonly moreFlights: number | null;
    };

export interface ForecastRequest {
  /** One per flight, rising. */
  readonly moments: ArrayLike<number>;
  /** Up is worse. */
  readonly logReadings: ArrayLike<number>;
  readonly logLimit: number;
  readonly coverage?: number;
}

const FEWEST_FLIGHTS = 12;
/** A forecast reaches at most this many spans of the record beyond its end. */
const FARTHEST_SPANS = 3;
/** Level, onset and slope. */
const FITTED = 3;
const GRID = 160;
const ONSETS = 24;
/** The readings come down through the limit: no course leads up to it. */
const NO_COURSE: LimitForecast = { known: false, reason: "no-rise", notBefore: null, moreFlights: null };

/**
 * Forecast of the moment at which the level reaches a limit.
 *
 * Model: level flat up to some flight, then straight (straight throughout is among the candidates). The interval holds
 * every moment whose best such course fits the flights no worse than chance allows, with the flights' own correlation;
 * outlying flights are drawn in to 2.5 scatters.
 */
export function limitForecast(request: ForecastRequest): LimitForecast {
  const { moments, logLimit } = request;
  const count = moments.length;
  const coverage = request.coverage ?? 0.95;
  if (count < FEWEST_FLIGHTS) {
    return { known: false, reason: "too-few-flights", notBefore: null, moreFlights: FEWEST_FLIGHTS - count };
  }
  const first = moments[0];
  const span = moments[count - 1] - first;
  const times = Float64Array.from(moments, (moment) => (moment - first) / span);
  const readings = heldReadings(times, request.logReadings, logLimit);
  if (readings === null) return NO_COURSE;
  const profile = crossingProfile(times, readings, logLimit);
  const { best, flatSquares } = profile;
  if (best.squares === Number.POSITIVE_INFINITY) return NO_COURSE;
  const residuals = courseResiduals(times, readings, logLimit, best);
  const factor = correlationFactor(flightCorrelation(lagOneAutocorrelation(residuals), count / FITTED));
  // Flights that resemble each other count for fewer.
  const dof = Math.max(2, count / factor - FITTED);
  const variance = best.squares / Math.max(2, count - FITTED * factor);
  const allowed = squared(studentTQuantile(0.5 + 0.5 * coverage, dof)) * variance * factor;
  const { courses } = profile;
  const inside = courses.map((course) => course.squares - best.squares <= allowed);
  // An end lies anywhere between the last crossing within and the next one tried.
  const between = (index: number, next: number) =>
    (courses[index].crossing + (courses[next] ?? courses[index]).crossing) / 2;
  const firstInside = inside.indexOf(true);
  const lastInside = inside.lastIndexOf(true);
  const notBefore = first + span * between(firstInside, firstInside - 1);
  if (flatSquares - best.squares <= allowed) {
    // The evidence for a rise grows as the cube of the flights since it began.
    const since = count - best.onset;
    const ratio = allowed / Math.max(1e-9, flatSquares - best.squares);
    const moreFlights = ratio > 64 ? null : Math.ceil(since * (power(ratio, 1 / 3) - 1)) + 1;
    return { known: false, reason: moreFlights === null ? "no-rise" : "too-few-flights", notBefore, moreFlights };
  }
  if (best.crossing > 1 + FARTHEST_SPANS || lastInside === courses.length - 1) {
    return { known: false, reason: "too-far-ahead", notBefore, moreFlights: null };
  }
  const high = first + span * between(lastInside, lastInside + 1);
  return { known: true, at: first + span * best.crossing, low: notBefore, high, coverage };
}

interface Course {
  /** In spans of the record from its first flight. */
  readonly crossing: number;
  readonly onset: number;
  readonly squares: number;
}

/** Best course through each crossing, from the middle of the record to far beyond the last forecast. */
function crossingProfile(times: Float64Array, readings: Float64Array, logLimit: number) {
  const onsets = onsetCandidates(times.length);
  const courses = Array.from({ length: GRID }, (_, step): Course => {
    const crossing = 0.5 * power(8 * (1 + FARTHEST_SPANS), step / (GRID - 1));
    let better: Course = { crossing, onset: 0, squares: Number.POSITIVE_INFINITY };
    for (const onset of onsets) {
      if (times[onset] > crossing - 0.05) break;
      const squares = squaresThrough(times, readings, logLimit, times[onset], crossing);
      if (squares < better.squares) better = { crossing, onset, squares };
    }
    return better;
  });
  const mean = readings.reduce((sum, reading) => sum + reading, 0) / readings.length;
  const flatSquares = readings.reduce((sum, reading) => sum + squared(reading - mean), 0);
  const best = courses.reduce((better, course) => (course.squares < better.squares ? course : better));
  return { courses, best, flatSquares };
}

function onsetCandidates(count: number): number[] {
  const last = count - 6;
  const step = Math.max(1, Math.ceil(last / ONSETS));
  return Array.from({ length: Math.floor(last / step) + 1 }, (_, index) => index * step);
}

/** Level that fits best: reading = level (1 - share) + limit share, share rising from 0 at the onset to 1 at the crossing. */
function flatLevel(times: Float64Array, readings: Float64Array, logLimit: number, start: number, crossing: number) {
  let top = 0;
  let bottom = 0;
  for (let index = 0; index < times.length; index++) {
    const share = times[index] > start ? (times[index] - start) / (crossing - start) : 0;
    top += (1 - share) * (readings[index] - logLimit * share);
    bottom += (1 - share) * (1 - share);
  }
  return top / bottom;
}

/** Squares that the best course through the limit at `crossing` leaves; infinite for a course that comes from above. */
function squaresThrough(
  times: Float64Array,
  readings: Float64Array,
  logLimit: number,
  start: number,
  crossing: number,
): number {
  const level = flatLevel(times, readings, logLimit, start, crossing);
  if (level >= logLimit) return Number.POSITIVE_INFINITY;
  let squares = 0;
  for (let index = 0; index < times.length; index++) {
    const share = times[index] > start ? (times[index] - start) / (crossing - start) : 0;
    const residual = readings[index] - level - (logLimit - level) * share;
    squares += residual * residual;
  }
  return squares;
}

function courseResiduals(times: Float64Array, readings: Float64Array, logLimit: number, course: Course): Float64Array {
  const start = times[course.onset];
  const level = flatLevel(times, readings, logLimit, start, course.crossing);
  return readings.map((reading, index) => {
    const share = Math.max(0, times[index] - start) / (course.crossing - start);
    return reading - level - (logLimit - level) * share;
  });
}

/** Readings with outliers drawn in to 2.5 scatters about a first fit; null where no course leads up to the limit. */
function heldReadings(times: Float64Array, logReadings: ArrayLike<number>, logLimit: number): Float64Array | null {
  const readings = Float64Array.from(logReadings);
  const { best } = crossingProfile(times, readings, logLimit);
  if (best.squares === Number.POSITIVE_INFINITY) return null;
  const residuals = courseResiduals(times, readings, logLimit, best);
  const reach = 2.5 * 1.4826 * median(residuals.map(Math.abs));
  return readings.map(
    (reading, index) => reading - residuals[index] + Math.max(-reach, Math.min(reach, residuals[index])),
  );
}
