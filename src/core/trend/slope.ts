import { lagOneAutocorrelation } from "../statistics/autocorrelation.js";
import { power } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";
import { correlationFactor, flightCorrelation } from "./flight-correlation.js";
import { type MannKendall, mannKendall } from "./mann-kendall.js";
import { theilSen } from "./theil-sen.js";

/** Relative change per flight, or how many flights more would tell it. */
export type FlightSlope =
  | {
      readonly known: true;
      /** Change of the logarithm per flight; up is worse. */
      readonly perFlight: number;
      readonly low: number;
      readonly high: number;
      readonly test: MannKendall;
    }
  | {
      readonly known: false;
      readonly reason: "too-few-flights";
      /** Flights more that would tell a slow slope. */
      readonly moreFlights: number;
      /** Flights more after which a steep one would show; 0 where it would by now. */
      readonly earliestMoreFlights: number;
      /** Whether the flights so far rise or fall, taken as independent of each other; null for fewer than four. */
      readonly soFar: MannKendall | null;
    };

/** Fewest flights that any slope is shown for. */
const FEWEST_FLIGHTS = 25;
/** A slope is shown once its interval is narrower than +-15 % over a hundred flights ... */
const USEFUL_HALF_WIDTH = 0.0015;
/** ... or the slope itself is this many half-widths: beyond the reach of luck, so that showing it does not bias it. */
const PLAIN_RATIO = 4;
/** Flights a slope needs at a scatter of 10 %, for records too short to tell their own scatter. */
const USUAL_FLIGHTS = 80;
/** Fewest flights whose order says anything. */
const FEWEST_IN_ORDER = 4;

/**
 * Slope of `logReadings`, one per flight in order, by Theil-Sen with an interval widened for the flights' own correlation.
 *
 * Twenty flights of 10 % scatter tell a slope to +-0.9 % per flight, which is no knowledge; a hundred to +-0.1 %.
 */
export function flightSlope(logReadings: ArrayLike<number>): FlightSlope {
  const count = logReadings.length;
  if (count < 8) return tooFew(logReadings, USUAL_FLIGHTS);
  const flights = Float64Array.from({ length: count }, (_, index) => index);
  const factor = correlationFactor(residualCorrelation(flights, logReadings));
  const line = theilSen(flights, logReadings, { varianceFactor: factor });
  const halfWidth = 0.5 * (line.high - line.low);
  const plain = Math.abs(line.slope) >= PLAIN_RATIO * halfWidth;
  if (count >= FEWEST_FLIGHTS && (halfWidth <= USEFUL_HALF_WIDTH || plain)) {
    const test = mannKendall(logReadings, factor);
    return { known: true, perFlight: line.slope, low: line.low, high: line.high, test };
  }
  // The half-width falls as the power 1.5 of the number of flights.
  const needed = Number.isFinite(halfWidth) ? count * power(halfWidth / USEFUL_HALF_WIDTH, 2 / 3) : USUAL_FLIGHTS;
  return tooFew(logReadings, Math.max(needed, FEWEST_FLIGHTS));
}

function tooFew(logReadings: ArrayLike<number>, needed: number): FlightSlope {
  const count = logReadings.length;
  return {
    known: false,
    reason: "too-few-flights",
    moreFlights: Math.max(1, Math.ceil(needed - count)),
    earliestMoreFlights: Math.max(0, FEWEST_FLIGHTS - count),
    soFar: count < FEWEST_IN_ORDER ? null : mannKendall(logReadings),
  };
}

/** Lag-one correlation of what a straight line leaves, settled against what is usual. */
function residualCorrelation(moments: ArrayLike<number>, readings: ArrayLike<number>): number {
  const line = theilSen(moments, readings);
  const residuals = Float64Array.from(
    readings,
    (reading, index) => reading - line.intercept - line.slope * moments[index],
  );
  const reach = 2.5 * 1.4826 * median(residuals.map(Math.abs));
  const held = residuals.map((residual) => Math.max(-reach, Math.min(reach, residual)));
  return flightCorrelation(lagOneAutocorrelation(held), readings.length);
}
