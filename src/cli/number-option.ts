import { InputError } from "../importers/input-error.js";

/** Temperatures that a battery may be told to have, degrees Celsius; beyond them is a slip of the pen. Common practice, no source. */
const BATTERY_C = { low: -60, high: 90 } as const;

/** Whether a battery can be as warm. */
export function mayBeBatteryC(celsius: number): boolean {
  return celsius >= BATTERY_C.low && celsius <= BATTERY_C.high;
}

/** What to write in the place of a temperature that no battery has. */
export const BATTERY_C_REMEDY = `give degrees Celsius from ${BATTERY_C.low} to ${BATTERY_C.high}`;

/** The temperature of a battery that a person wrote after `--temperature`. */
export function batteryTemperatureAfter(text: string): number {
  return numberAfter("--temperature", text, BATTERY_C.low, BATTERY_C.high);
}

/** A number that a person wrote after `flag`, between two bounds. */
export function numberAfter(flag: string, text: string, low: number, high: number): number {
  const value = text.trim() === "" ? Number.NaN : Number(text);
  if (value >= low && value <= high) return value;
  throw new InputError({ problem: `${flag} is '${text}'`, remedy: `write a number from ${low} to ${high}` });
}
