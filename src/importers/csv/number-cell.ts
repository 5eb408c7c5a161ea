import { type LogUnit, unitOf } from "./unit.js";

export type DecimalSign = "." | ",";

/** Cells that loggers and meters write where there is no reading: overload, open input, blanks. */
const MISSING_WORDS: ReadonlySet<string> = new Set([
  "",
  "-",
  "--",
  "---",
  "----",
  "-----",
  "—",
  "–",
  "?",
  ".",
  "...",
  "n/a",
  "na",
  "#n/a",
  "null",
  "none",
  "nil",
  "ol",
  "o.l",
  "o.l.",
  "0l",
  "0.l",
  "0.l.",
  ".ol",
  "ovl",
  "ovld",
  "ovrld",
  "over",
  "overload",
  "overflow",
  "over range",
  "overrange",
  "out of range",
  "open",
  "err",
  "error",
  "fault",
  "invalid",
  "bad",
  "blank",
  "missing",
  "no data",
  "nodata",
  "no reading",
]);

/** Whether the cell stands for "no reading"; `more` holds further words in lower case. */
export function isMissing(text: string, more: ReadonlySet<string>): boolean {
  const bare = text.trim().toLowerCase();
  return MISSING_WORDS.has(bare) || MISSING_WORDS.has(bare.replace(/^[+-]\s*(?=\p{L}|\d|\.)/u, "")) || more.has(bare);
}

/** Whether the cell is a float's way to say that it holds no number. */
export function isNotANumber(text: string): boolean {
  return /^[+-]?(nan|inf|infinity|1\.#(ind|qnan|inf)\d*|#num!|#div\/0!|#value!)$/i.test(text.trim());
}

/** A number as written, kept as decimal text so that it can be scaled without rounding twice. */
export interface WrittenNumber {
  /** Digits with `.` as decimal sign, without exponent. */
  readonly mantissa: string;
  readonly exponent: number;
  readonly decimals: number;
  /** Unit written behind the number; null where there is none. */
  readonly unit: LogUnit | null;
}

const POINT = /^([+-]?(?:\d+\.?\d*|\.\d+))(?:e([+-]?\d{1,3}))?$/i;
const COMMA = /^([+-]?(?:\d+,?\d*|,\d+))(?:e([+-]?\d{1,3}))?$/i;

/**
 * Reads a number with that decimal sign; null where the text is none.
 *
 * Thousands may be parted by spaces or apostrophes, and by the other sign where a decimal sign follows, or where
 * `grouped` says that the person told the decimal sign.
 */
export function readNumber(text: string, decimal: DecimalSign, grouped = false): WrittenNumber | null {
  const trimmed = text.trim().replace(/^[−–]/, "-");
  return readBare(trimmed, decimal, grouped) ?? readWithUnit(trimmed, decimal, grouped);
}

function readBare(text: string, decimal: DecimalSign, grouped: boolean): WrittenNumber | null {
  const found =
    (decimal === "." ? POINT : COMMA).exec(text) ??
    (decimal === "." ? POINT : COMMA).exec(ungroup(text, decimal, grouped));
  if (found === null) return null;
  const mantissa = decimal === "." ? found[1]! : found[1]!.replace(",", ".");
  const dot = mantissa.indexOf(".");
  const exponent = Number(found[2] ?? 0);
  return {
    mantissa,
    exponent,
    decimals: Math.max(0, (dot < 0 ? 0 : mantissa.length - dot - 1) - exponent),
    unit: null,
  };
}

/** Whether the number shows both signs: thousands parted by one, decimals by the other. */
export function isGrouped(text: string, decimal: DecimalSign): boolean {
  return (decimal === "." ? /^[+-]?\d{1,3}(,\d{3})+\.\d+$/ : /^[+-]?\d{1,3}(\.\d{3})+,\d+$/).test(text);
}

/** The number without thousands separators; an empty text where they do not stand in groups of three. */
function ungroup(text: string, decimal: DecimalSign, grouped: boolean): string {
  const other = decimal === "." ? "," : "\\.";
  const sign = decimal === "." ? "\\." : ",";
  const gap = /^[+-]?\d{1,3}([ '’\u00a0\u202f]\d{3})+(?![\d])/.exec(text);
  if (gap !== null) return text.replace(/[ '’\u00a0\u202f]/g, "");
  const mark = new RegExp(`^[+-]?\\d{1,3}(${other}\\d{3})+(${sign}\\d+${grouped ? ")?" : ")"}$`).exec(text);
  return mark === null ? "" : text.replaceAll(decimal === "." ? "," : ".", "");
}

function readWithUnit(text: string, decimal: DecimalSign, grouped: boolean): WrittenNumber | null {
  const found = /^([+-]?[\d.,'’]*\d[.,]?(?:[eE][+-]?\d{1,3})?)\s*([^\d\s].{0,11})$/.exec(text);
  if (found === null) return null;
  const unit = unitOf(found[2]!);
  const bare = unit === null ? null : readBare(found[1]!, decimal, grouped);
  return bare === null ? null : { ...bare, unit };
}

/** The number divided by `10 ** decimalShift`, rounded once. */
export function scaledNumber(number: WrittenNumber, decimalShift: number): number {
  return Number(`${number.mantissa}e${number.exponent - decimalShift}`);
}
