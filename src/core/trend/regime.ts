import type { Uncertain } from "../quantity/quantity.js";
import { baselineOf } from "./baseline.js";
import { controlLimit } from "./control-limit.js";
import { type FlightCharts, flightCharts } from "./flight-charts.js";
import { flightCorrelation, varianceOfMean } from "./flight-correlation.js";
import { shiftLooks } from "./level-shift.js";

/** How flights scatter, where a fleet has told it; otherwise from the battery's own baseline flights. */
export interface FleetScatter {
  /** Scatter of one flight, relative. */
  readonly sigma: number;
  readonly correlation: Uncertain;
}

/** Flights [start, end) between two changes of level, with their charts once the baseline is complete. */
export interface Regime {
  readonly start: number;
  readonly end: number;
  readonly phi: number;
  /** Null while the baseline is being gathered. */
  readonly charts: FlightCharts | null;
}

/** A fall to a better level that no logged repair or replacement explains. */
export interface LevelShift {
  /** Index of the first flight of the new level, and of the flight after which it was found. */
  readonly firstFlight: number;
  readonly foundAt: number;
  /** Change of the logarithm, negative, and its standard uncertainty. */
  readonly change: number;
  readonly uChange: number;
}

export interface RegimeOptions {
  readonly baselineFlights: number;
  /** Share of batteries in control that may be asked about in vain within their first hundred flights. */
  readonly questionRate: number;
  readonly fleet?: FleetScatter;
  /** Stated relative uncertainty of one flight: its scatter where the baseline flights all read the same. */
  readonly statedSigma?: number;
}

/**
 * Splits a battery's flights where the level fell without a logged reason; the baseline starts anew at each split.
 *
 * `logReadings`: up is worse.
 */
export function regimesOf(
  logReadings: Float64Array,
  options: RegimeOptions,
): { readonly regimes: readonly Regime[]; readonly shifts: readonly LevelShift[] } {
  const { baselineFlights, questionRate, fleet, statedSigma = 0 } = options;
  const chartOptions = { baselineFlights, statedSigma, ...(fleet ? { sigma: fleet.sigma } : {}) };
  const regimes: Regime[] = [];
  const shifts: LevelShift[] = [];
  for (let start = 0; ; ) {
    const readings = logReadings.subarray(start);
    const phi = correlationOf(readings, baselineFlights, fleet);
    if (readings.length < baselineFlights) {
      regimes.push({ start, end: logReadings.length, phi, charts: null });
      return { regimes, shifts };
    }
    const charts = flightCharts(readings, chartOptions);
    const limit = controlLimit("level-shift", {
      phi,
      baselineFlights,
      sigmaKnown: fleet !== undefined,
      falseCallRate: questionRate,
    });
    const looks = shiftLooks(charts.z, phi, baselineFlights);
    const hit = looks.findIndex((look) => look.t > limit);
    if (hit < 0) {
      regimes.push({ start, end: logReadings.length, phi, charts });
      return { regimes, shifts };
    }
    const split = looks[hit].firstFlight;
    const found = baselineFlights + hit;
    regimes.push({
      start,
      end: start + split,
      phi,
      charts: split < baselineFlights ? null : flightCharts(readings.subarray(0, split), chartOptions),
    });
    const before = Math.min(split, baselineFlights);
    const change = meanOf(readings, split, found + 1) - meanOf(readings, split - before, split);
    const variance = varianceOfMean(found + 1 - split, phi) + varianceOfMean(before, phi);
    const uChange = charts.baseline.sigma * Math.sqrt(variance);
    shifts.push({ firstFlight: start + split, foundAt: start + found, change, uChange });
    start += split;
  }
}

function correlationOf(readings: Float64Array, baselineFlights: number, fleet?: FleetScatter): number {
  const count = Math.min(readings.length, baselineFlights);
  if (count < 8) return fleet?.correlation.value ?? flightCorrelation(0, 1);
  return flightCorrelation(baselineOf(readings, count).r1, count, fleet?.correlation);
}

function meanOf(readings: Float64Array, start: number, end: number): number {
  return readings.subarray(start, end).reduce((sum, reading) => sum + reading, 0) / (end - start);
}
