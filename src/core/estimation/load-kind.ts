import type { LoadKind, RatedLoad } from "../profile.js";
import { squared } from "../statistics/portable-power.js";

/**
 * How a load draws: `R` of a resistor, `P` of a constant-power load or `I` of a constant-current load.
 *
 * A heater is a resistor here: its settled, hot resistance.
 */
export type LoadLaw =
  | { readonly kind: "resistance"; readonly resistanceOhm: number }
  | { readonly kind: "power"; readonly powerW: number }
  | { readonly kind: "current"; readonly currentA: number };

/**
 * The law of a load from its rating.
 *
 * A resistive load rated by current alone is taken as that current, because the voltage of the rating is not told.
 * Source: Ohm's law, `R = V^2 / P` at the rated voltage.
 */
export function loadLaw(kind: LoadKind, rated: RatedLoad): LoadLaw {
  if ("currentA" in rated) return { kind: "current", currentA: rated.currentA };
  if (kind === "constant-power") return { kind: "power", powerW: rated.powerW };
  if (kind === "constant-current") return { kind: "current", currentA: rated.powerW / rated.atV };
  return { kind: "resistance", resistanceOhm: squared(rated.atV) / rated.powerW };
}

/** Current of a load at a given terminal voltage. */
export function currentAtVoltage(law: LoadLaw, terminalV: number): number {
  if (law.kind === "resistance") return terminalV / law.resistanceOhm;
  return law.kind === "power" ? law.powerW / terminalV : law.currentA;
}

/**
 * Current that a load draws from a source of `sourceV` volts without it and `sourceOhm` ohms; null where a
 * constant-power load asks for more than the source can give.
 *
 * Constant power: `I = (V - sqrt(V^2 - 4 R P)) / (2 R)`, written so that it holds for small R. Amperes. Source: Kirchhoff's
 * voltage law with `P = I (V - R I)`, its smaller root.
 */
export function currentFromSource(law: LoadLaw, sourceV: number, sourceOhm: number): number | null {
  if (law.kind === "current") return law.currentA;
  if (law.kind === "resistance") return sourceV / (law.resistanceOhm + sourceOhm);
  const discriminant = squared(sourceV) - 4 * sourceOhm * law.powerW;
  return discriminant < 0 ? null : (2 * law.powerW) / (sourceV + Math.sqrt(discriminant));
}
