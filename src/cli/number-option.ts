import { InputError } from "../importers/input-error.js";

/** A number that a person wrote after `flag`, between two bounds. */
export function numberAfter(flag: string, text: string, low: number, high: number): number {
  const value = text.trim() === "" ? Number.NaN : Number(text);
  if (value >= low && value <= high) return value;
  throw new InputError({ problem: `${flag} is '${text}'`, remedy: `write a number from ${low} to ${high}` });
}
