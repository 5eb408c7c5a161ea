// Constants of this file are folded into the loop; imported ones are fetched anew each time, which takes a third longer.
const POWERS_OF_TEN = Float64Array.from({ length: 23 }, (_, i) => Number(`1e${i}`));
const MINUS = 45;
const RETURN = 13;
const QUOTE = 34;
const ZERO = 48;
/** Digits of a number that this reader takes on: as many as fit 32 bits. */
const DIGITS = 9;

/** How rows of plain numbers are laid out. */
export interface PlainLayout {
  readonly delimiter: number;
  readonly decimal: number;
  readonly newline: number;
  /** For each column up to the last one wanted, 1 where it is wanted. */
  readonly wanted: Uint8Array;
  /** For each column the power of ten that divides its numbers besides their decimals; none negative. */
  readonly shifts: Int8Array;
  readonly timeColumn: number;
}

/** Where to put the numbers of each column; the arrays of columns not wanted are never touched. */
export interface PlainTarget {
  readonly columns: readonly Float64Array[];
  /** Row to write first, and one past the last there is room for. */
  readonly firstRow: number;
  readonly endRow: number;
}

/** How far `readPlainRows` came. */
export interface PlainProgress {
  /** Where the first row not read begins. */
  at: number;
  rowCount: number;
  /** Most decimals met in the time column. */
  timeDecimals: number;
}

/**
 * Reads rows as long as every wanted cell is a plain decimal of up to nine digits, and stops before the first other row.
 *
 * `bytes` must have a line end at `end - 1`. One loop without calls: the whole speed of reading a log stands here.
 */
// biome-ignore lint/complexity/noExcessiveCognitiveComplexity: split into functions it takes twice the time
export function readPlainRows(
  bytes: Uint8Array,
  start: number,
  end: number,
  layout: PlainLayout,
  target: PlainTarget,
  progress: PlainProgress,
): void {
  const { delimiter, newline, wanted, shifts, timeColumn } = layout;
  const decimalDigit = layout.decimal - ZERO;
  const { columns, endRow } = target;
  const lastColumn = wanted.length - 1;
  let row = target.firstRow;
  let timeDecimals = 0;
  let rowStart = start;
  rows: while (rowStart < end && row < endRow) {
    let p = rowStart;
    for (let column = 0; column <= lastColumn; column += 1) {
      let byte = bytes[p]!;
      if (wanted[column] === 0) {
        while (byte !== delimiter) {
          // Quotes and line ends are for the other readers.
          if (byte < 35) break rows;
          p += 1;
          byte = bytes[p]!;
        }
        p += 1;
        continue;
      }
      const negative = byte === MINUS;
      if (negative) p += 1;
      const from = p;
      let digits = 0;
      // Unsigned, so that one comparison tells a digit; and in 32 bits, which nine digits fit.
      let digit = (bytes[p]! | 0) - ZERO;
      while (digit >>> 0 < 10) {
        digits = (Math.imul(digits, 10) + digit) | 0;
        p += 1;
        digit = (bytes[p]! | 0) - ZERO;
      }
      let digitCount = p - from;
      let decimals = 0;
      if (digit === decimalDigit) {
        p += 1;
        const decimalsFrom = p;
        digit = (bytes[p]! | 0) - ZERO;
        while (digit >>> 0 < 10) {
          digits = (Math.imul(digits, 10) + digit) | 0;
          p += 1;
          digit = (bytes[p]! | 0) - ZERO;
        }
        decimals = p - decimalsFrom;
        digitCount += decimals;
      }
      byte = digit + ZERO;
      if (digitCount === 0 || digitCount > DIGITS) break rows;
      if (column < lastColumn ? byte !== delimiter : byte !== newline && byte !== RETURN && byte !== delimiter)
        break rows;
      const value = digits / POWERS_OF_TEN[decimals + shifts[column]!]!;
      columns[column]![row] = negative ? -value : value;
      if (column === timeColumn && decimals > timeDecimals) timeDecimals = decimals;
      if (column < lastColumn) p += 1;
    }
    for (let byte = bytes[p]!; byte !== newline; byte = bytes[p]!) {
      // A quote may hide a line end.
      if (byte === QUOTE) break rows;
      p += 1;
    }
    rowStart = p + 1;
    row += 1;
  }
  progress.at = rowStart;
  progress.rowCount = row - target.firstRow;
  progress.timeDecimals = timeDecimals;
}
