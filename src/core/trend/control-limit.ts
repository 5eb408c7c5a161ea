import { logarithm } from "../statistics/portable-exponential.js";
import type { ChartKind } from "./chart-kind.js";
import { CONTROL_LIMITS } from "./control-limit-table.js";

/**
 * Share of batteries in control that a chart may wrongly call within their first hundred flights; one per cent less than
 * what is promised, since a battery's own flights tell its correlation badly.
 */
export const FALSE_CALL_RATE = 0.17;

/** Share of batteries that did not change and may be asked about in vain within their first hundred flights. */
export const QUESTION_RATE = 0.18;

export interface LimitConditions {
  /** Lag-one correlation from flight to flight. */
  readonly phi: number;
  readonly baselineFlights: number;
  /** Whether the scatter comes from the fleet and not from the baseline flights alone. */
  readonly sigmaKnown: boolean;
  /** Share of batteries in control that may be called in the 80 flights after their baseline. */
  readonly falseCallRate: number;
}

/**
 * Limit of a chart in scatters.
 *
 * From a table of simulations, the stricter of no and 2 % outlying flights: straight between its correlations, between
 * the inverses of its baseline lengths and in the logarithm of the rate; held at the ends of the first two.
 */
export function controlLimit(chart: ChartKind, conditions: LimitConditions): number {
  const [often, seldom] = CONTROL_LIMITS.limits[conditions.sigmaKnown ? "known" : "own"][chart].map((table) =>
    limitIn(table, conditions),
  );
  const [oftenRate, seldomRate] = CONTROL_LIMITS.rates;
  const share = logarithm(oftenRate / conditions.falseCallRate) / logarithm(oftenRate / seldomRate);
  return often + share * (seldom - often);
}

function limitIn(table: readonly (readonly number[])[], conditions: LimitConditions): number {
  const inverse = CONTROL_LIMITS.baselineFlights.map((count) => -1 / count);
  const [row, rowShare] = position(inverse, -1 / conditions.baselineFlights);
  const [column, columnShare] = position(CONTROL_LIMITS.phi, conditions.phi);
  const along = (limits: readonly number[]) => limits[column] + columnShare * (limits[column + 1] - limits[column]);
  const lower = along(table[row]);
  return lower + rowShare * (along(table[row + 1]) - lower);
}

/** Index of the last grid point but one at or below the value, and the share of the way to the next one, from 0 to 1. */
function position(grid: readonly number[], sought: number): [number, number] {
  const index = grid.slice(1, -1).filter((point) => point <= sought).length;
  const share = (sought - grid[index]) / (grid[index + 1] - grid[index]);
  return [index, Math.min(1, Math.max(0, share))];
}
