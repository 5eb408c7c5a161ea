import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";
import { median } from "../statistics/quantile.js";
import { baselineOf } from "./baseline.js";
import type { FleetScatter } from "./regime.js";

const FEWEST_BATTERIES = 8;
/** With 2 % outliers every third baseline holds one; widens the quartiles by so much in simulations. */
const OUTLIER_SPREAD = 1.3;
const NORMAL_QUARTILES = 1.349;
/** Standard error of a scatter from quartiles, times the root of the number of values. */
const QUARTILE_ERROR = 1.17;

/**
 * Scatter and flight-to-flight correlation common to the batteries of a fleet, from the baseline flights of each.
 *
 * Null for fewer than eight batteries with a whole baseline, or where their scatters differ by more than chance: then
 * each battery has to tell its own.
 * @param histories readings of one battery each, logarithms in the order of time
 */
export function fleetScatter(histories: readonly ArrayLike<number>[], baselineFlights: number): FleetScatter | null {
  const baselines = histories
    .filter((history) => history.length >= baselineFlights)
    .map((history) => baselineOf(history, baselineFlights))
    .filter((baseline) => baseline.sigma > 0);
  const count = baselines.length;
  if (count < FEWEST_BATTERIES) return null;
  const mean = (pick: (index: number) => number) => baselines.reduce((sum, _, index) => sum + pick(index), 0) / count;
  const r1 = mean((index) => baselines[index].r1);
  const correlation = Math.min(0.6, Math.max(0, r1 + (1 + 4 * r1) / baselineFlights));
  // Flights that resemble each other tell the scatter less well.
  const dof = ((baselineFlights - 1) * (1 - squared(correlation))) / (1 + squared(correlation));
  // Quartiles of the logarithms, since a battery with an outlier among its flights seems to scatter more.
  const logs = baselines.map((baseline) => logarithm(baseline.sigma)).sort((a, b) => a - b);
  const spread = (logs[Math.floor(0.75 * (count - 1))] - logs[Math.ceil(0.25 * (count - 1))]) / NORMAL_QUARTILES;
  const usual = OUTLIER_SPREAD * Math.sqrt(1 / (2 * dof)) * (1 + (2.6 * QUARTILE_ERROR) / Math.sqrt(count));
  if (spread > usual) return null;
  // The median of a chi-square variable lies below its mean (Wilson & Hilferty).
  const sigma = exponential(median(Float64Array.from(logs))) / power(1 - 2 / (9 * dof), 1.5);
  return { sigma, correlation: { value: correlation, u: 1 / Math.sqrt(count * baselineFlights) } };
}
