import { type Answer, unanswered } from "../estimation/answer.js";
import type { BudgetInput } from "../estimation/uncertainty-budget.js";
import type { Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";

export interface InternalResistance {
  readonly resistanceOhm: Uncertain;
  readonly rows: readonly BudgetInput[];
}

/**
 * Internal resistance: what the meter sees less the path from the battery to the meter, ohms, at the time after the step
 * at which the source resistance was taken.
 *
 * Unknown where the path is. Source: the definition of IEC 60896-21 is at the battery's own terminals.
 */
export function internalResistance(source: Uncertain, path: Uncertain | undefined): Answer<InternalResistance> {
  if (path === undefined) return unanswered("path-unknown");
  return {
    known: true,
    resistanceOhm: { value: source.value - path.value, u: rootSumSquares(source.u, path.u) },
    rows: [
      { source: "known-resistance", value: source.value, unit: "Ohm", u: source.u, sensitivity: 1 },
      { source: "path-resistance", value: path.value, unit: "Ohm", u: path.u, sensitivity: -1 },
    ],
  };
}
