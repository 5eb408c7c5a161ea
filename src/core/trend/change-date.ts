import { changePoints } from "../detection/change-point.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { WINSOR } from "./baseline.js";
import { correlationFactor } from "./flight-correlation.js";

/** A level counts as worse from this many scatters above the baseline. */
const WORSE = 0.5;
/** Price of a change in variances of one flight, times the logarithm of the number of flights. */
const PENALTY = 3;

/**
 * Index of the flight from which every level of the series stays above the baseline; null where none does.
 *
 * `z` is the deviation from the baseline in scatters, `phi` the lag-one correlation. Levels are the best piecewise
 * constant fit, each flight's loss bounded at 2.5 scatters.
 */
export function worseSince(z: Float64Array, phi: number): number | null {
  const penalty = PENALTY * logarithm(z.length) * correlationFactor(phi);
  const { starts, levels } = changePoints(z, { penalty, outlierLimit: WINSOR });
  let since: number | null = null;
  for (let segment = levels.length - 1; segment >= 0 && levels[segment] > WORSE; segment--) since = starts[segment];
  return since;
}
