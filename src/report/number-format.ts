import type { Quantity, Unit } from "../core/index.js";

/** A value and its uncertainty as printed digits, both ending at the same decimal place. */
export interface RoundedPair {
  readonly value: string;
  readonly u: string;
  /** Digits after the decimal point; negative where whole tens or hundreds are rounded away. */
  readonly decimals: number;
}

type QuantityForm = "expanded" | "compact" | "standard" | "interval";

/** How a quantity is written. */
export interface QuantityStyle {
  /**
   * `expanded`: value plus or minus half the coverage interval, or value and interval where the two sides differ by
   * more than a tenth; `compact`: the same with the unit once; `standard`: value and standard uncertainty `u`;
   * `interval`: the two bounds alone.
   */
  readonly form?: QuantityForm;
  /** Write the coverage probability behind the figure. */
  readonly coverage?: boolean;
  /** Why a missing quantity is missing; a half-sentence. */
  readonly reason?: string;
}

interface DisplayUnit {
  readonly symbol: string;
  readonly factor: number;
}

/** Rounding to nearest may print an uncertainty too small by this fraction at most; beyond it, it is rounded up. */
const LARGEST_UNDERSTATEMENT = 0.04;

/** Bounds that lie this much closer on one side are written as an interval instead of plus or minus. */
const LARGEST_LOPSIDEDNESS = 0.1;

/**
 * Rounds an uncertainty to two significant digits and the value to the same decimal place.
 *
 * The uncertainty is rounded to nearest, except where that would print it more than 4 % too small; then it is rounded
 * up. This choice gives both of the standard's own examples: 10.47 mOhm becomes 11 mOhm, 28.05 kHz becomes 28 kHz.
 *
 * @throws RangeError if the uncertainty is not a positive finite number or the value is not finite.
 * Source: JCGM 100:2008, 7.2.6.
 */
export function roundToUncertainty(value: number, u: number): RoundedPair {
  if (!(Number.isFinite(value) && Number.isFinite(u) && u > 0)) {
    throw new RangeError(`Cannot round to the uncertainty: a finite value and u > 0 are needed, got ${value} and ${u}`);
  }
  const [mantissa, exponent] = u.toExponential(12).split("e").map(Number) as [number, number];
  const twoDigits = mantissa * 10;
  const nearest = Math.round(twoDigits);
  const rounded = nearest < twoDigits * (1 - LARGEST_UNDERSTATEMENT) ? nearest + 1 : nearest;
  const carried = rounded >= 100;
  const decimals = 1 - exponent - (carried ? 1 : 0);
  return { value: toPlace(value, decimals), u: toPlace(u, decimals, rounded / (carried ? 10 : 1)), decimals };
}

/**
 * Writes a quantity with its unit and its uncertainty, never as a bare number.
 *
 * Volts below 1 V are written in mV, resistances below 1 Ohm in mOhm. A missing quantity is `not identifiable` and,
 * if given, the reason.
 */
export function formatQuantity(quantity: Quantity<Unit> | null, style: QuantityStyle = {}): string {
  if (quantity === null || !isPrintable(quantity)) {
    return style.reason === undefined ? "not identifiable" : `not identifiable: ${style.reason}`;
  }
  const unit = displayUnit(quantity.unit, Math.max(Math.abs(quantity.value), Math.abs(quantity.high)));
  const coverage = style.coverage ? ` (${formatPercent(quantity.coverage)})` : "";
  return `${withUncertainty(quantity, unit, style.form ?? "expanded")}${coverage}`;
}

/**
 * Writes a limit, a time or another plain figure with its unit, to at most the given significant digits (three if not
 * told); zeros at its end are left out.
 */
export function formatPlain(
  value: number | null,
  unit: Unit | "Hz" | "W" | "K" | "C",
  style: { readonly digits?: number } = {},
): string {
  if (value === null || !Number.isFinite(value)) return "not known";
  const display = displayUnit(unit, Math.abs(value));
  const digits = significant(value * display.factor, style.digits ?? 3).replace(/(\.\d*?)0+$/, "$1");
  return withUnit(typographicMinus(digits.replace(/\.$/, "")), display.symbol);
}

/** Writes a chance: as `1 in N` where it is small, else in per cent; under one in a million as `< 0.0001 %`. */
export function formatChance(probability: number): string {
  if (!Number.isFinite(probability)) return "not known";
  if (probability < 1e-6) return "< 0.0001 %";
  if (probability < 0.01) return `1 in ${Number((1 / probability).toPrecision(2)).toLocaleString("en")}`;
  return formatPercent(Math.min(probability, 1));
}

/** Writes a fraction in per cent, two significant digits, as many nines as it has near one. */
export function formatPercent(fraction: number): string {
  const percent = fraction * 100;
  if (percent > 99 && percent < 100) return `${Number(percent.toFixed(1))} %`;
  return `${Number(percent.toPrecision(2))} %`;
}

/** Writes a moment of the recording, to a hundredth of a second. */
export function formatMoment(timeS: number): string {
  return Number.isFinite(timeS) ? `${typographicMinus(toPlace(timeS, 2))} s` : "not known";
}

/** Writes a span of time the way people say it: `4.2 s`, `2 min 10 s`, `1 h 0 min`. */
export function formatDuration(durationS: number): string {
  if (durationS < 60) return `${significant(durationS, 2)} s`;
  const wholeS = Math.round(durationS);
  if (wholeS < 3600) return `${Math.floor(wholeS / 60)} min ${wholeS % 60} s`;
  const wholeMin = Math.round(wholeS / 60);
  return `${Math.floor(wholeMin / 60)} h ${wholeMin % 60} min`;
}

/** The unit a column of such quantities is written in, chosen for its largest figure. */
export function displayUnit(unit: Unit | "Hz" | "W" | "K" | "C", largest: number): DisplayUnit {
  switch (unit) {
    case "V":
      return largest < 1 ? { symbol: "mV", factor: 1e3 } : { symbol: "V", factor: 1 };
    case "Ohm":
      return largest < 1 ? { symbol: "m\u03a9", factor: 1e3 } : { symbol: "\u03a9", factor: 1 };
    case "1":
      return { symbol: "", factor: 1 };
    case "C":
      return { symbol: "\u00b0C", factor: 1 };
    default:
      return { symbol: unit, factor: 1 };
  }
}

function withUncertainty(quantity: Quantity<Unit>, unit: DisplayUnit, form: QuantityForm): string {
  const value = quantity.value * unit.factor;
  const low = quantity.low * unit.factor;
  const high = quantity.high * unit.factor;
  const write = (digits: string) => withUnit(typographicMinus(digits), unit.symbol);
  if (form === "standard") {
    if (!(quantity.u > 0)) return `${write(significant(value, 3))} (taken as exact)`;
    const pair = roundToUncertainty(value, quantity.u * unit.factor);
    return `${write(pair.value)}, u = ${write(pair.u)}`;
  }
  const halfWidth = (high - low) / 2;
  if (!(halfWidth > 0)) return `${write(significant(value, 3))} (taken as exact)`;
  const pair = roundToUncertainty(value, halfWidth);
  const interval = `${write(toPlace(low, pair.decimals))} to ${write(toPlace(high, pair.decimals))}`;
  if (form === "interval") return interval;
  const lopsided = Math.abs(high - value - (value - low)) > LARGEST_LOPSIDEDNESS * 2 * halfWidth;
  if (form === "compact") {
    const bounds = `(${typographicMinus(toPlace(low, pair.decimals))} to ${typographicMinus(toPlace(high, pair.decimals))})`;
    return withUnit(`${typographicMinus(pair.value)} ${lopsided ? bounds : `\u00b1 ${pair.u}`}`, unit.symbol);
  }
  return lopsided ? `${write(pair.value)} (${interval})` : `${write(pair.value)} \u00b1 ${write(pair.u)}`;
}

function isPrintable(quantity: Quantity<Unit>): boolean {
  return [quantity.value, quantity.u, quantity.low, quantity.high].every(Number.isFinite);
}

function withUnit(digits: string, symbol: string): string {
  return symbol === "" ? digits : `${digits} ${symbol}`;
}

/** Digits down to the given decimal place; `counts` replaces the value by that many units of the place. */
function toPlace(value: number, decimals: number, counts?: number): string {
  if (decimals >= 0) {
    const fixed = counts === undefined ? value : Number(`${counts}e${-decimals}`);
    return withoutNegativeZero(fixed.toFixed(Math.min(decimals, 100)));
  }
  const place = Number(`1e${-decimals}`);
  return withoutNegativeZero(((counts ?? Math.round(value / place)) * place).toFixed(0));
}

function significant(value: number, digits: number): string {
  if (value === 0) return "0";
  const exponent = Number(value.toExponential(digits - 1).split("e")[1]);
  return toPlace(value, Math.max(0, digits - 1 - exponent));
}

function withoutNegativeZero(digits: string): string {
  return /^-0(\.0*)?$/.test(digits) ? digits.slice(1) : digits;
}

function typographicMinus(digits: string): string {
  return digits.replace("-", "\u2212");
}

/** A space inside a figure: before its unit, on both sides of its plus-minus, and behind its "less than". */
const FIGURE_SPACE =
  /(?<=\d|\)) (?=(?:m?V|m?\u03a9|m?Ohm|A|min|s|Hz|Ah|%|\u00b1|\+\/-)(?:[^\p{L}\p{N}]|$))|(?<=\u00b1|\+\/-|^<|\s<) (?=\S)/gu;

/** Sets no-break spaces inside every figure of a text, so that no line ends between a number and its unit. */
export function unbrokenFigures(text: string): string {
  return text.replace(FIGURE_SPACE, "\u00a0");
}
