import { readNumber, scaledNumber } from "./number-cell.js";
import { type PlainLayout, type PlainProgress, readPlainRows } from "./plain-rows.js";
import type { RowSink, ValueSink } from "./row-sink.js";
import { StampShortcut } from "./stamp-shortcut.js";
import { meet } from "./tally.js";
import { delimiterCharacter } from "./text-rows.js";
import { readStamp } from "./timestamp.js";

/** Reads whole rows as text from the bytes `[start, end)`, of which the first stands on `line`. */
export type TextLane = (bytes: Uint8Array, start: number, end: number, line: number) => void;

const TAB = 9;
const RETURN = 13;
const SPACE = 32;
const QUOTE = 34;
const PLUS = 43;
const MINUS = 45;
const ZERO = 48;

/** What a column is to the lane. */
const SKIP = 0;
const VALUE = 1;
const DATE = 6;
const TIME_KINDS = { elapsed: 2, epoch: 3, excel: 4, stamp: 5, clock: 5 } as const;

/** Characters with which a comment may begin. */
const COMMENT_STARTS = new Set([..."#%/*!"].map((character) => character.charCodeAt(0)));

/** Digits that always fit a double exactly. */
const EXACT_DIGITS = 15;
const POWERS_OF_TEN = Float64Array.from({ length: 23 }, (_, i) => Number(`1e${i}`));
const TICKS_PER_S = 1e9;
const DAY_S = 86_400;

/** Lines that an open quote may run on before it counts as a character like any other. */
const QUOTED_LINES = 20;
/** Most rows handed on together. */
const TEXT_ROWS = 4096;

const IRREGULAR = -1;
const NO_ROOM = new Float64Array(0);

/**
 * Reads rows of plain numbers and stamps straight from bytes; hands every other row on as text.
 *
 * A number is its digits as one integer, divided by a power of ten: for up to 2^53 and 10^22 both are exact doubles, so
 * the quotient is the double nearest to the written decimal, which is what the text reader gives.
 *
 * Source: W. D. Clinger, How to read floating point numbers accurately, PLDI 1990 (the fast case; from memory).
 */
export class RegularLane {
  private readonly delimiter: number;
  private readonly spaced: boolean;
  private readonly decimal: number;
  private readonly kinds: Uint8Array;
  private readonly lastColumn: number;
  /** Power of ten by which each column's numbers are divided besides their decimals. */
  private readonly shifts: Int8Array;
  private readonly sinks: readonly ValueSink[];
  private readonly able: boolean;
  private readonly shortcut: StampShortcut;
  private readonly rowValues: Float64Array;
  // The number just read, and the time of the row.
  private digits = 0;
  private decimals = 0;
  private whole = 0;
  private value = 0;
  private time = 0;
  private lineLead = Number.NaN;
  private readonly plain: PlainLayout | null;
  private readonly progress: PlainProgress = { at: 0, rowCount: 0, timeDecimals: 0 };
  /** Line on which reading goes on. */
  nextLine = 1;

  constructor(
    private readonly sink: RowSink,
    private readonly newline: number,
    private readonly textLane: TextLane,
    enabled = true,
  ) {
    const { dialect, time } = sink.plan;
    this.delimiter = delimiterCharacter(dialect.delimiter).charCodeAt(0);
    this.spaced = dialect.delimiter === "space";
    this.decimal = dialect.decimal.charCodeAt(0);
    this.sinks = sink.values;
    const columns = sink.values.map(({ column }) => column.index);
    const dateColumn = time.form === "stamp" ? time.dateColumn : null;
    const timeColumns = time.form === "interval" ? [] : dateColumn === null ? [time.column] : [time.column, dateColumn];
    this.lastColumn = Math.max(...columns, ...timeColumns);
    this.kinds = new Uint8Array(this.lastColumn + 1).fill(SKIP);
    this.shifts = new Int8Array(this.lastColumn + 1);
    this.rowValues = new Float64Array(this.lastColumn + 1);
    for (const { column } of sink.values) {
      this.kinds[column.index] = VALUE;
      this.shifts[column.index] = column.unit.decimalShift;
    }
    if (time.form !== "interval") this.kinds[time.column] = TIME_KINDS[time.form];
    if (dateColumn !== null) this.kinds[dateColumn] = DATE;
    if (time.form === "elapsed") this.shifts[time.column] = time.unit.decimalShift;
    if (time.form === "epoch") this.shifts[time.column] = time.decimalShift;
    this.shortcut = new StampShortcut(sink.timeReader, dateColumn !== null, this.delimiter);
    this.able =
      enabled &&
      sink.values.every(({ column }) => column.unitColumn === null) &&
      new Set([...columns, ...timeColumns]).size === columns.length + timeColumns.length;
    this.plain = this.plainLayout();
  }

  /** The layout for the quickest reader, where times and readings are all plain numbers. */
  private plainLayout(): PlainLayout | null {
    const { time } = this.sink.plan;
    if (!this.able || this.spaced || this.decimal === this.delimiter) return null;
    if (time.form !== "elapsed" || time.unit.factor !== 1 || this.shifts.some((shift) => shift < 0)) return null;
    return {
      delimiter: this.delimiter,
      decimal: this.decimal,
      newline: this.newline,
      wanted: this.kinds.map((kind) => (kind === SKIP ? 0 : 1)),
      shifts: this.shifts,
      timeColumn: time.column,
    };
  }

  /** Reads plain rows from `at` on; returns where the first other row begins. */
  private plainRows(bytes: Uint8Array, at: number, end: number, layout: PlainLayout): number {
    const { times, timeReader } = this.sink;
    const firstRow = times.count;
    for (const { series } of [{ series: times }, ...this.sinks]) series.reserve(firstRow + 1);
    const columns: Float64Array[] = new Array(this.lastColumn + 1).fill(NO_ROOM);
    columns[layout.timeColumn] = times.values;
    for (const { column, series } of this.sinks) columns[column.index] = series.values;
    const endRow = Math.min(times.values.length, ...this.sinks.map(({ series }) => series.values.length));
    readPlainRows(bytes, at, end, layout, { columns, firstRow, endRow }, this.progress);
    const { rowCount, timeDecimals } = this.progress;
    if (rowCount === 0) return at;
    this.sink.markLine(this.nextLine);
    this.nextLine += rowCount;
    times.count += rowCount;
    for (const { series } of this.sinks) series.count += rowCount;
    if (timeDecimals > timeReader.decimals) timeReader.decimals = timeDecimals;
    return this.progress.at;
  }

  /**
   * Reads the rows in `[start, end)`, which ends with a line end; the first stands on `line`.
   *
   * Returns where reading stopped: `end`, or earlier where the last row goes on behind it.
   */
  scan(bytes: Uint8Array, start: number, end: number, line: number): number {
    let at = start;
    this.nextLine = line;
    // Runs of irregular rows are handed on in ever larger pieces, and a single one alone.
    let piece = this.able ? 1 : TEXT_ROWS;
    while (at < end) {
      if (this.plain !== null) {
        at = this.plainRows(bytes, at, end, this.plain);
        if (at === end) break;
      }
      const next = this.able ? this.row(bytes, at, this.nextLine) : IRREGULAR;
      if (next !== IRREGULAR) {
        at = next;
        this.nextLine += 1;
        piece = 1;
        continue;
      }
      const textEnd = this.rowsEnd(bytes, at, end, piece);
      if (textEnd === at) break;
      this.textLane(bytes, at, textEnd, this.nextLine);
      this.shortcut.learn(this.sink.lastTimeCell, this.sink.lastDateCell);
      this.lineLead = Number.NaN;
      for (; at < textEnd; at += 1) if (bytes[at] === this.newline) this.nextLine += 1;
      piece = Math.min(2 * piece, TEXT_ROWS);
    }
    return at;
  }

  /** Where the next `count` rows end, or as many of them as are whole. */
  private rowsEnd(bytes: Uint8Array, at: number, end: number, count: number): number {
    let rowStart = at;
    for (let row = 0; row < count && rowStart < end; row += 1) {
      const rowEnd = this.rowEnd(bytes, rowStart, end);
      if (rowEnd === rowStart) break;
      rowStart = rowEnd;
    }
    return rowStart;
  }

  /** Where the row ends, which may hold line ends within quotes; `start` where it goes on behind `end`. */
  private rowEnd(bytes: Uint8Array, start: number, end: number): number {
    let quoted = false;
    let firstEnd = -1;
    let lines = 0;
    for (let p = start; p < end; p += 1) {
      if (bytes[p] === QUOTE) quoted = !quoted;
      if (bytes[p] !== this.newline) continue;
      if (firstEnd < 0) firstEnd = p + 1;
      if (!quoted) return p + 1;
      lines += 1;
      if (lines === QUOTED_LINES) return firstEnd;
    }
    return start;
  }

  /** Reads one row; returns where the next begins, or `IRREGULAR` with nothing taken. */
  private row(bytes: Uint8Array, start: number, line: number): number {
    if (COMMENT_STARTS.has(bytes[start]!)) return IRREGULAR;
    let p = start;
    for (let column = 0; column <= this.lastColumn; column += 1) {
      if (this.spaced) while (bytes[p] === SPACE || bytes[p] === TAB) p += 1;
      p = this.cell(bytes, p, column, line);
      if (p < 0) return IRREGULAR;
      if (column < this.lastColumn) {
        if (bytes[p] !== this.delimiter && !(this.spaced && bytes[p] === TAB)) return IRREGULAR;
        p += 1;
      }
    }
    for (let byte = bytes[p]; byte !== this.newline; byte = bytes[p]) {
      if (byte === QUOTE) return IRREGULAR;
      p += 1;
    }
    this.take(line);
    return p + 1;
  }

  private take(line: number): void {
    const { times } = this.sink;
    if (line - times.count !== this.lineLead) {
      this.sink.markLine(line);
      this.lineLead = line - times.count;
    }
    const { source } = this.sink.timeReader;
    const time = source.form === "interval" ? times.count * source.intervalS : this.time;
    times.push(time);
    this.sink.timeReader.previous = time;
    for (const { series, column, missing } of this.sinks) {
      const value = this.rowValues[column.index]!;
      if (Number.isNaN(value)) meet(missing, line);
      series.push(value);
    }
  }

  /** Reads one cell; returns the place of the delimiter or line end behind it, or `IRREGULAR`. */
  private cell(bytes: Uint8Array, start: number, column: number, line: number): number {
    switch (this.kinds[column]) {
      case SKIP:
        return this.skip(bytes, start);
      case VALUE: {
        const end = this.number(bytes, start, this.shifts[column]!);
        this.rowValues[column] = this.value;
        return end;
      }
      case TIME_KINDS.elapsed:
        return this.elapsed(bytes, start, this.shifts[column]!);
      case TIME_KINDS.epoch:
        return this.epoch(bytes, start, this.shifts[column]!);
      case TIME_KINDS.excel:
        return this.excel(bytes, start);
      case TIME_KINDS.stamp:
        return this.stamp(bytes, start, line);
      default:
        return this.endOfCell(bytes, this.shortcut.matchDate(bytes, start));
    }
  }

  private skip(bytes: Uint8Array, start: number): number {
    let p = start;
    for (let byte = bytes[p]; byte !== this.delimiter; byte = bytes[p]) {
      if (byte === QUOTE || byte === this.newline) return IRREGULAR;
      if (this.spaced && byte === TAB) return p;
      p += 1;
    }
    return p;
  }

  /** Skips what may stand between a value and its delimiter; `IRREGULAR` where anything else does. */
  private endOfCell(bytes: Uint8Array, at: number): number {
    if (at < 0) return IRREGULAR;
    let p = at;
    if (!this.spaced) while (bytes[p] === SPACE) p += 1;
    const byte = bytes[p];
    if (byte === this.delimiter || byte === this.newline || byte === RETURN || (this.spaced && byte === TAB)) return p;
    return IRREGULAR;
  }

  /** Reads a number into `value`, divided by `10 ** shift`; a blank gives NaN. */
  private number(bytes: Uint8Array, start: number, shift: number): number {
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
    const number = readNumber(text, this.sink.plan.dialect.decimal);
    if (number === null || number.unit !== null) return IRREGULAR;
    this.value = scaledNumber(number, shift);
    this.decimals = number.decimals;
    this.digits = Number.NaN;
    return p;
  }

  private endsCell(byte: number): boolean {
    return byte === this.delimiter || byte === this.newline || byte === RETURN || (this.spaced && byte === TAB);
  }

  private elapsed(bytes: Uint8Array, start: number, shift: number): number {
    const end = this.number(bytes, start, shift);
    const { timeReader } = this.sink;
    if (end < 0 || Number.isNaN(this.value) || timeReader.source.form !== "elapsed") return IRREGULAR;
    if (this.decimals > timeReader.decimals) timeReader.decimals = this.decimals;
    this.time = this.value * timeReader.source.unit.factor;
    return end;
  }

  /** An epoch time is ten digits of seconds and what follows, each read by itself to stay exact. */
  private epoch(bytes: Uint8Array, start: number, shift: number): number {
    const { timeReader } = this.sink;
    const originS = timeReader.originS;
    if (originS === null) return IRREGULAR;
    let seconds = 0;
    let p = start;
    for (; p < start + 10; p += 1) {
      const digit = bytes[p]! - ZERO;
      if (digit < 0 || digit > 9) return IRREGULAR;
      seconds = seconds * 10 + digit;
    }
    const end = this.number(bytes, p, 0);
    const rest = p + shift;
    // The further whole digits must be exactly those of the unit.
    if (end < 0 || bytes[p] === SPACE || bytes[p] === QUOTE || bytes[p] === MINUS || bytes[p] === PLUS)
      return IRREGULAR;
    const mark = bytes[rest]! - ZERO;
    if (mark >= 0 && mark <= 9) return IRREGULAR;
    for (let i = p; i < rest; i += 1) if (bytes[i]! < ZERO || bytes[i]! > ZERO + 9) return IRREGULAR;
    const digitCount = shift + this.decimals;
    if (digitCount > 9) return IRREGULAR;
    if (this.decimals > timeReader.decimals) timeReader.decimals = this.decimals;
    const fraction = digitCount === 0 ? 0 : this.digits * POWERS_OF_TEN[9 - digitCount]!;
    this.time = (seconds - originS) * TICKS_PER_S + fraction;
    return end;
  }

  private excel(bytes: Uint8Array, start: number): number {
    const { timeReader } = this.sink;
    const end = this.number(bytes, start, 0);
    if (
      end < 0 ||
      !(this.digits >= 0) ||
      !(this.value >= 0) ||
      timeReader.source.form !== "excel" ||
      timeReader.originS === null
    ) {
      return IRREGULAR;
    }
    if (this.decimals > timeReader.decimals) timeReader.decimals = this.decimals;
    const power = POWERS_OF_TEN[this.decimals]!;
    const fraction = (this.digits - this.whole * power) / power;
    const wholeS = (this.whole + timeReader.source.baseDay) * DAY_S;
    this.time = (wholeS - timeReader.originS) * TICKS_PER_S + fraction * DAY_S * TICKS_PER_S;
    return end;
  }

  private stamp(bytes: Uint8Array, start: number, line: number): number {
    let p = start;
    while (bytes[p] === SPACE) p += 1;
    const quoted = bytes[p] === QUOTE;
    if (quoted) p += 1;
    const end = this.shortcut.read(bytes, p);
    if (end < 0) return this.newMinute(bytes, p, quoted, line);
    if (quoted && bytes[end] !== QUOTE) return IRREGULAR;
    this.time = this.shortcut.ticks;
    return this.endOfCell(bytes, quoted ? end + 1 : end);
  }

  /** A stamp that differs in more than its seconds, by the text reader's way. */
  private newMinute(bytes: Uint8Array, start: number, quoted: boolean, line: number): number {
    let p = start;
    let text = "";
    while (quoted ? bytes[p] !== QUOTE : !this.endsCell(bytes[p]!)) {
      if (bytes[p] === QUOTE || bytes[p] === this.newline || bytes[p]! > 126) return IRREGULAR;
      text += String.fromCharCode(bytes[p]!);
      p += 1;
    }
    if (!this.shortcut.primed || readStamp(text)?.time == null) return IRREGULAR;
    const { dateCell } = this.shortcut;
    this.time = this.sink.timeReader.readCells(text.trim(), dateCell, line);
    this.shortcut.learn(text.trim(), dateCell);
    return this.endOfCell(bytes, quoted ? p + 1 : p);
  }
}
