import type { EnduranceOutlook } from "../../core/index.js";
import { plainLabel } from "../label-text.js";
import { unknownReasonText } from "../messages.js";
import { formatPlain, roundToUncertainty } from "../number-format.js";

/** The answer on endurance in one or two sentences. */
export function enduranceHeadline(outlook: EnduranceOutlook): string {
  const { all, requiredMin } = outlook;
  if (!all.known) {
    const unrated = outlook.unrated.map(({ name, id }) => plainLabel(name ?? id)).join(", ");
    const which = all.reason === "no-bus-current" && unrated !== "" ? ` Without a rating: ${unrated}.` : "";
    return `How long the battery carries the bus cannot be told: ${unknownReasonText(all.reason)}.${which}`;
  }
  const range = `${Math.floor(all.lowMin)} to ${Math.ceil(all.highMin)} min`;
  const carries = `With every load on, the battery carries the bus for ${Math.round(all.minutes)} min, and with 95 % for ${range}.`;
  if (requiredMin === null) return `${carries} The profile asks for no required time.`;
  const required = `${formatPlain(requiredMin, "min", { digits: 2 })} are required`;
  if (all.meets === true) return `${carries} ${required}: met.`;
  if (all.meets === false) return `${carries} ${required}: not met; shed loads.`;
  return `${carries} ${required}: this cannot be told for sure; shed loads, or test the capacity.`;
}

/** What was reckoned with. */
export function enduranceBasis(outlook: EnduranceOutlook): readonly string[] {
  const { all, current } = outlook;
  if (!all.known || current === null) return [];
  const { value, u } = roundToUncertainty(current.value, Math.max(2 * current.u, 1e-6));
  const base = current.baseMeasured
    ? "the loads' ratings on top of bus_current_A of the profile"
    : "the loads' ratings; what else is on the bus shortens the time (bus_current_A in the profile)";
  const percent = (fraction: number) => `${Math.round(100 * fraction)}`;
  return [
    `The bus draws ${value} \u00b1 ${u} A (95 %): ${base}.`,
    `${percent(all.derateLow)} % to ${percent(all.derateHigh)} % of the rated capacity count as usable, for age and ${all.temperatureAssumed ? "a temperature of about 20 \u00b0C, which is assumed" : "temperature"}. The end is the rating's own end voltage; the manual's minimum voltage comes first.`,
    "Advisory: the approved manuals' endurance comes first. Shedding is the crew's decision by the emergency checklist.",
  ];
}

export const SHED_HEAD = ["Switched off", "Current", "Minutes then", "Gain"] as const;

/** One row per load: what it draws, and what switching it off buys. */
export function shedRows(outlook: EnduranceOutlook): readonly (readonly string[])[] {
  return outlook.sheds.map(({ load, currentA, minutes, gain }) => [
    plainLabel(load.name ?? load.id),
    plusMinus(currentA.value, 2 * currentA.u, "A"),
    minutes === null ? "nothing else draws" : `${Math.round(minutes)} min`,
    gain === null ? "" : `+ ${plusMinus(gain.value, 2 * gain.u, "min")}`,
  ]);
}

function plusMinus(value: number, expanded: number, unit: string): string {
  if (!(expanded > 0)) return `${Number(value.toPrecision(2))} ${unit}`;
  const rounded = roundToUncertainty(value, expanded);
  return `${rounded.value} \u00b1 ${rounded.u} ${unit}`;
}
