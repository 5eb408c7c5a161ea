import { type Baseline, baselineOf, winsorize } from "./baseline.js";
import { cusum, ewma } from "./control-chart.js";

/** Share of the newest flight in the moving average. */
const EWMA_WEIGHT = 0.15;
/** Allowance of the cumulative sum, in scatters. */
const CUSUM_ALLOWANCE = 0.5;

/** The three charts of a battery after its baseline; element 0 is the first flight after the baseline. */
export interface FlightCharts {
  readonly baseline: Baseline;
  /** Deviation of every flight from the baseline in scatters, baseline flights included, not winsorised. */
  readonly z: Float64Array;
  readonly shewhart: Float64Array;
  /** Average and sum of winsorised deviations, so that one outlying flight cannot raise an alarm. */
  readonly ewma: Float64Array;
  readonly cusum: Float64Array;
}

export interface FlightChartOptions {
  readonly baselineFlights: number;
  /** Scatter of one flight where the fleet has told it; otherwise it comes from the baseline flights. */
  readonly sigma?: number;
  /** Stated uncertainty of one flight: its scatter where the baseline flights all read the same. */
  readonly statedSigma?: number;
}

/**
 * Charts of readings in which up is worse.
 *
 * @throws RangeError for fewer readings than the baseline takes
 */
export function flightCharts(readings: ArrayLike<number>, options: FlightChartOptions): FlightCharts {
  const count = options.baselineFlights;
  if (readings.length < count) {
    throw new RangeError(`Cannot chart: the baseline takes ${count} flights, got ${readings.length}`);
  }
  const own = baselineOf(readings, count);
  const sigma = options.sigma ?? (own.sigma > 0 ? own.sigma : (options.statedSigma ?? 0));
  const baseline = { ...own, sigma };
  const z = Float64Array.from(readings, (reading) => (sigma === 0 ? 0 : (reading - own.mean) / sigma));
  const watched = z.subarray(count);
  const held = watched.map((each) => winsorize(each));
  return {
    baseline,
    z,
    shewhart: watched.slice(),
    ewma: ewma(held, EWMA_WEIGHT, 0),
    cusum: cusum(held, 0, CUSUM_ALLOWANCE).upper,
  };
}
