import type { UncertaintyBudget } from "../analysis.js";
import type { DisplayBias } from "../detection/display-bias.js";
import type { MarkedResponse } from "../detection/marked-response.js";
import { type BudgetInput, uncertaintyBudget } from "../estimation/uncertainty-budget.js";
import { COVERAGE } from "../quantity/interval.js";
import type { Quantity } from "../quantity/quantity.js";
import { normalQuantile } from "../statistics/distribution.js";
import { squared } from "../statistics/portable-power.js";

/**
 * What the depth's uncertainty is made of: noise, what is open about the noise, shape and times, display, and the gain of
 * the readings, which `depth` itself does not hold yet.
 */
export function depthBudget(
  {
    response,
    displayBias,
    commonV,
  }: { readonly response: MarkedResponse; readonly displayBias: DisplayBias; readonly commonV: number },
  depth: Quantity<"V">,
  displayStepV: number | null,
  gainUncertainty: number,
): UncertaintyBudget {
  const whole = Math.max(depth.u, (depth.high - depth.low) / (2 * normalQuantile((1 + COVERAGE) / 2)));
  const total = Math.sqrt(Math.max(squared(whole) - squared(commonV), 0));
  const noise = Math.min(response.refined?.uNoiseV ?? response.voltsPerScore, total);
  const open = Math.min(noise * response.scaleSd, Math.sqrt(Math.max(squared(total) - squared(noise), 0)));
  const display = Math.min(displayBias.uV, Math.sqrt(Math.max(squared(total) - squared(noise) - squared(open), 0)));
  const rest = Math.sqrt(Math.max(squared(total) - squared(noise) - squared(open) - squared(display), 0));
  const inputs: BudgetInput[] = [
    { source: "reading-noise", value: 0, unit: "V", u: noise, sensitivity: 1 },
    { source: "noise-model", value: 0, unit: "V", u: open, sensitivity: 1 },
    { source: "switching-time-and-shape", value: 0, unit: "V", u: rest, sensitivity: 1 },
  ];
  if (displayStepV !== null || displayBias.mostV > 0) {
    // Rounding that averages like noise is part of the reading noise; this is the part that does not.
    inputs.push({
      source: "display-step",
      value: displayStepV ?? displayBias.mostV,
      unit: "V",
      u: display,
      sensitivity: 1,
    });
  }
  if (commonV > 0) inputs.push({ source: "common-doubt", value: 0, unit: "V", u: commonV, sensitivity: 1 });
  if (gainUncertainty > 0) {
    inputs.push({ source: "voltage-gain", value: 1, unit: "1", u: gainUncertainty, sensitivity: depth.value });
  }
  return uncertaintyBudget(inputs, {
    quantity: "depth",
    load: response.id,
    unit: "V",
    value: depth.value,
    method: "likelihood",
  });
}
