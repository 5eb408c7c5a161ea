import { IRREGULAR, MINUS, PLUS, POWERS_OF_TEN, QUOTE, RETURN, SPACE, TAB, ZERO } from "./bytes.js";
import { type DecimalSign, readNumber, scaledNumber } from "./number-cell.js";
import { type Delimiter, delimiterCharacter } from "./text-rows.js";

/** Digits that always fit a double exactly. */
const EXACT_DIGITS = 15;

/**
 * Reads numbers from bytes, and tells where cells end.
 *
 * A number is its digits as one integer, divided by a power of ten: for up to 2^53 and 10^22 both are exact doubles, so
 * the quotient is the double nearest to the written decimal, which is what the text reader gives.
 *
 * Source: W. D. Clinger, How to read floating point numbers accurately, PLDI 1990 (the fast case; from memory).
 */
export class NumberBytes {
  readonly delimiter: number;
  /** Columns are parted by runs of spaces and tabs. */
  readonly spaced: boolean;
  readonly decimal: number;
  /** The number read last; NaN for a blank. */
  value = 0;
  /** Its digits as an integer, those before the decimal sign alone, and how many stand behind it. */
  digits = 0;
  whole = 0;
  decimals = 0;

  constructor(
    delimiter: Delimiter,
    private readonly decimalSign: DecimalSign,
    readonly newline: number,
  ) {
    this.delimiter = delimiterCharacter(delimiter).charCodeAt(0);
    this.spaced = delimiter === "space";
    this.decimal = decimalSign.charCodeAt(0);
  }

  /** Whether a cell ends at that byte. */
  endsCell(byte: number): boolean {
    return byte === this.delimiter || byte === this.newline || byte === RETURN || (this.spaced && byte === TAB);
  }

  /** Skips what may stand between a value and its delimiter; `IRREGULAR` where anything else does. */
  endOfCell(bytes: Uint8Array, at: number): number {
    if (at < 0) return IRREGULAR;
    let p = at;
    if (!this.spaced) while (bytes[p] === SPACE) p += 1;
    const byte = bytes[p];
    if (byte === this.delimiter || byte === this.newline || byte === RETURN || (this.spaced && byte === TAB)) return p;
    return IRREGULAR;
  }

  /** Reads a number into `value`, divided by `10 ** shift`; returns where its cell ends, or `IRREGULAR`. */
  read(bytes: Uint8Array, start: number, shift: number): number {
    let p = start;
    while (bytes[p] === SPACE) p += 1;
    const quoted = bytes[p] === QUOTE;
    if (quoted) p += 1;
    const sign = bytes[p]!;
    if (sign === MINUS || sign === PLUS) p += 1;
    const digitsFrom = p;
    let digits = 0;
    let digit = bytes[p]! - ZERO;
    while (digit >= 0 && digit <= 9) {
      digits = digits * 10 + digit;
      p += 1;
      digit = bytes[p]! - ZERO;
    }
    this.whole = digits;
    let digitCount = p - digitsFrom;
    let decimals = 0;
    if (bytes[p] === this.decimal && this.decimal !== this.delimiter) {
      p += 1;
      const decimalsFrom = p;
      digit = bytes[p]! - ZERO;
      while (digit >= 0 && digit <= 9) {
        digits = digits * 10 + digit;
        p += 1;
        digit = bytes[p]! - ZERO;
      }
      decimals = p - decimalsFrom;
      digitCount += decimals;
    }
    if (quoted) {
      if (bytes[p] !== QUOTE) return IRREGULAR;
      p += 1;
    }
    const end = this.endOfCell(bytes, p);
    if (digitCount === 0) return this.blank(end, p - (quoted ? 1 : 0), digitsFrom, sign);
    const power = decimals + shift;
    if (end < 0 || digitCount > EXACT_DIGITS || power > 22) return this.longNumber(bytes, start, shift);
    this.digits = digits;
    this.decimals = decimals;
    const size = power >= 0 ? digits / POWERS_OF_TEN[power]! : digits * POWERS_OF_TEN[-power]!;
    this.value = sign === MINUS ? -size : size;
    return end;
  }

  private blank(end: number, at: number, digitsFrom: number, sign: number): number {
    if (at !== digitsFrom || sign === MINUS || sign === PLUS) return IRREGULAR;
    this.value = Number.NaN;
    this.decimals = 0;
    return end;
  }

  /** A number with an exponent or too many digits, by the text reader's way. */
  private longNumber(bytes: Uint8Array, start: number, shift: number): number {
    let p = start;
    let text = "";
    while (!this.endsCell(bytes[p]!)) {
      if (bytes[p] === QUOTE || bytes[p]! > 126) return IRREGULAR;
      text += String.fromCharCode(bytes[p]!);
      p += 1;
    }
    const number = readNumber(text, this.decimalSign);
    if (number === null || number.unit !== null) return IRREGULAR;
    this.value = scaledNumber(number, shift);
    if (!Number.isFinite(this.value)) return IRREGULAR;
    this.decimals = number.decimals;
    this.digits = Number.NaN;
    return p;
  }
}
