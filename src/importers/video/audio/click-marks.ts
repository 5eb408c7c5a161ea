import type { SwitchingMark } from "../../../core/index.js";
import type { SwitchClick } from "./switch-clicks.js";

/**
 * Clicks as switchings, taken in turn as on and off, since a click tells no direction and the readings must not choose
 * it; null where their number is none or odd.
 */
export function marksInTurn(clicks: readonly SwitchClick[], load: string | null = null): SwitchingMark[] | null {
  if (clicks.length === 0 || clicks.length % 2 === 1) return null;
  return clicks.map(({ timeS }, index) => ({
    timeS: Number(timeS.toFixed(4)),
    load,
    action: index % 2 === 0 ? "on" : "off",
  }));
}
