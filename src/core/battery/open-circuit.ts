import type { UncertaintyBudget } from "../analysis.js";
import { type Draw, normalDraw, propagatedQuantity } from "../estimation/propagated-quantity.js";
import { type BudgetInput, uncertaintyBudget } from "../estimation/uncertainty-budget.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";

/**
 * Open-circuit voltage: the level with the switched loads off, plus what the base current takes off it; null where one of
 * the three is not known. First order, drawn beside it.
 */
export function openCircuit(
  level: { readonly baseA: Uncertain | null; readonly busV: Uncertain | null },
  sourceOhm: Uncertain | null,
  drawSourceOhm: Draw | null,
  random: RandomGenerator,
): { readonly quantity: Quantity<"V">; readonly budget: UncertaintyBudget } | null {
  const { baseA, busV } = level;
  if (baseA === null || busV === null || sourceOhm === null || drawSourceOhm === null) return null;
  const { value: ohm, u: uOhm } = sourceOhm;
  const rows: BudgetInput[] = [
    { source: "bus-voltage", value: busV.value, unit: "V", u: busV.u, sensitivity: 1 },
    { source: "bus-current", value: baseA.value, unit: "A", u: baseA.u, sensitivity: ohm },
    { source: "resistance", value: ohm, unit: "Ohm", u: uOhm, sensitivity: baseA.value },
  ];
  const value = busV.value + baseA.value * ohm;
  const u = rootSumSquares(...rows.map((row) => row.sensitivity * row.u));
  const drawBusV = normalDraw(busV);
  const drawBaseA = normalDraw(baseA);
  const { quantity, method } = propagatedQuantity(
    { value, u, unit: "V", route: "measured-current" },
    (generator) => drawBusV(generator) + drawBaseA(generator) * drawSourceOhm(generator),
    random,
  );
  const head = { quantity: "open-circuit", load: null, unit: "V", value, method } as const;
  return { quantity, budget: uncertaintyBudget(rows, head) };
}
