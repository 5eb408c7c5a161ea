import type { Analysis, BudgetSource, DetectionMode, LoadAnswer, Route, UncertaintyBudget } from "../core/index.js";
import { formatPercent, formatPlain, formatQuantity } from "./number-format.js";

/** How a quantity came about, as a table cell says it. */
export function routeText(route: Route): string {
  switch (route) {
    case "generalized-least-squares":
      return "fitted by generalised least squares";
    case "interval-likelihood":
      return "from how often each display step was shown";
    case "measured-current":
      return "from the measured current";
    case "reference-load":
      return "from the reference load";
    case "known-resistance":
      return "from the known source resistance";
    case "profile":
      return "from the profile";
    case "two-current":
      return "from two currents";
    case "readings":
      return "from the readings";
    case "capacity-and-current":
      return "from capacity and bus current";
  }
}

/** An input of an uncertainty budget. */
export function budgetSourceText(source: BudgetSource): string {
  switch (source) {
    case "reading-noise":
      return "Noise of the readings";
    case "noise-model":
      return "Noise model, itself estimated";
    case "switching-time-and-shape":
      return "Switching time and shape of the dip";
    case "display-step":
      return "Step of the display, friction of the needle";
    case "common-doubt":
      return "Readings while the load is on, doubtful together";
    case "voltage-gain":
      return "Gain of the readings, common to all of them";
    case "depth":
      return "Depth of the dip";
    case "measured-current":
      return "Measured current";
    case "reference-rating":
      return "Rating of the reference load";
    case "reference-depth":
      return "Depth of the reference load's dip";
    case "known-resistance":
      return "Known source resistance";
    case "path-resistance":
      return "Path resistance";
    case "bus-voltage":
      return "Bus voltage";
    case "capacity":
      return "Capacity";
    case "bus-current":
      return "Bus current";
    case "derate":
      return "Derate for age and temperature";
    case "resistance":
      return "Internal resistance as measured";
    case "temperature":
      return "Temperature of the battery";
    case "temperature-coefficient":
      return "Temperature coefficient";
    case "state-of-charge":
      return "State of charge";
    case "charge-coefficient":
      return "Rise from full to empty";
  }
}

/** What a budget is the budget of. */
export function budgetQuantityText(quantity: UncertaintyBudget["quantity"]): string {
  switch (quantity) {
    case "depth":
      return "Depth";
    case "current":
      return "Current";
    case "source-resistance":
      return "Source resistance";
    case "internal-resistance":
      return "Internal resistance";
    case "normalized-resistance":
      return "Normalised internal resistance";
    case "open-circuit":
      return "Open-circuit voltage";
    case "endurance":
      return "Endurance";
  }
}

/** Where the coverage interval of a budgeted quantity comes from. */
export function budgetMethodText(method: UncertaintyBudget["method"]): string {
  switch (method) {
    case "first-order":
      return "Interval by first-order propagation (JCGM 100).";
    case "monte-carlo":
      return "Interval by seeded Monte Carlo propagation (JCGM 101), since first order is not good enough here.";
    case "fieller":
      return "Interval of a ratio by Fieller's theorem; the rows show the first-order shares.";
    case "likelihood":
      return "Interval over all shapes, switching times and noises that the readings leave open; the rows show the first-order shares.";
  }
}

/** Depth of a load in a table; "none seen" only where no switching of it was seen either. */
export function depthText(load: LoadAnswer): string {
  return load.depth === null && load.switchingCount === 0
    ? "none seen"
    : formatQuantity(load.depth, { form: "compact" });
}

/** Where the switching times came from. */
export function detectionModeText(mode: DetectionMode): string {
  switch (mode) {
    case "marked":
      return "from marks";
    case "current":
      return "from the measured current";
    case "searched":
      return "searched for in the voltage";
  }
}

/** What is known of the battery, in one line. */
export function batteryText(analysis: Analysis): string {
  const { source, internal, openCircuit, endurance, requiredEnduranceMin } = analysis.battery;
  const parts: string[] = [];
  if (openCircuit !== null) parts.push(`open circuit ${formatQuantity(openCircuit, { form: "compact" })}`);
  for (const [word, at] of [
    ["source", source],
    ["battery alone", internal],
  ] as const) {
    if (at === null) continue;
    const after = `${formatPlain(at.atS, "s", { digits: 1 })} after the step`;
    parts.push(`${word} ${formatQuantity(at.resistance, { form: "compact" })}, ${after}`);
  }
  if (endurance !== null) {
    const required =
      requiredEnduranceMin === null ? "" : ` (${formatPlain(requiredEnduranceMin, "min", { digits: 2 })} required)`;
    const bare = analysis.assumptions.some((one) => one.code === "bus-current" && one.loadCount === 0);
    parts.push(
      `endurance ${formatQuantity(endurance, { form: "compact" })}${bare ? " with the switched loads off" : ""}${required}`,
    );
  }
  return parts.length === 0 ? "nothing identifiable; the report says why" : `${parts.join("; ")}.`;
}

/** What stands behind every plus-minus and every chance; empty where there is none. */
export function figuresLegend(analysis: Analysis): string {
  const coverage = analysis.loads.find((load) => load.depth !== null)?.depth?.coverage;
  if (coverage === undefined) return "";
  return `\u00b1 is half the ${formatPercent(coverage)} coverage interval. By noise alone: the chance that noise would look so where the load draws nothing.`;
}
