import { IRREGULAR, QUOTE, SPACE, TAB } from "./bytes.js";
import { NumberBytes } from "./number-bytes.js";
import { LARGEST_SHIFT, MOST_COLUMNS, type PlainLayout, PlainRows } from "./plain-rows.js";
import { rowsEnd } from "./row-end.js";
import type { RowSink, ValueSink } from "./row-sink.js";
import { meet } from "./tally.js";
import { TimeBytes } from "./time-bytes.js";

/** Reads whole rows as text from the bytes `[start, end)`, of which the first stands on `line`. */
export type TextLane = (bytes: Uint8Array, start: number, end: number, line: number) => void;

/** What a column is to the lane. */
const SKIP = 0;
const VALUE = 1;
const TIME = 2;
const DATE = 3;

/** Characters with which a comment may begin. */
const COMMENT_STARTS = new Set([..."#%/*!"].map((character) => character.charCodeAt(0)));

/** Most rows handed on together. */
const TEXT_ROWS = 4096;

/** Most rows in a run that are kept from the quickest way because the one before was not for it. */
const LONGEST_PAUSE = 64;

/** What may read the rows: `text` alone, `bytes` too, or the quickest way for plain numbers as well. */
export type Lanes = "text" | "bytes" | "plain";

/**
 * Reads rows of plain numbers and stamps straight from bytes; hands every other row on as text.
 *
 * Rows of nothing but short plain numbers take the quickest way, `PlainRows`; stamps, quotes, blanks and long numbers
 * the next; all else is text.
 */
export class RegularLane {
  private readonly kinds: Uint8Array;
  private readonly lastColumn: number;
  /** Power of ten by which each column's numbers are divided besides their decimals. */
  private readonly shifts: Int8Array;
  private readonly sinks: readonly ValueSink[];
  private readonly able: boolean;
  private readonly numbers: NumberBytes;
  private readonly times: TimeBytes;
  private readonly rowValues: Float64Array;
  private lineLead = Number.NaN;
  private readonly plain: PlainRows | null;
  /** How many rows to read before the quickest way is tried again, and how many the next time it fails. */
  private pause = 0;
  private nextPause = 1;
  /** Line on which reading goes on. */
  nextLine = 1;

  constructor(
    private readonly sink: RowSink,
    private readonly newline: number,
    private readonly textLane: TextLane,
    lanes: Lanes = "plain",
  ) {
    const { dialect, time } = sink.plan;
    this.numbers = new NumberBytes(dialect.delimiter, dialect.decimal, newline);
    this.times = new TimeBytes(sink.timeReader, this.numbers);
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
    if (time.form !== "interval") this.kinds[time.column] = TIME;
    if (dateColumn !== null) this.kinds[dateColumn] = DATE;
    this.able =
      lanes !== "text" &&
      !sink.leavesNumbersOut &&
      sink.values.every(({ column }) => column.unitColumn === null) &&
      new Set([...columns, ...timeColumns]).size === columns.length + timeColumns.length;
    const layout = lanes === "plain" ? this.plainLayout() : null;
    this.plain = layout === null ? null : new PlainRows(layout);
  }

  /** The layout for the quickest reader, where times and readings are all plain numbers. */
  private plainLayout(): PlainLayout | null {
    const { time } = this.sink.plan;
    const { delimiter, spaced, decimal } = this.numbers;
    if (!this.able || spaced || decimal === delimiter || time.form !== "elapsed" || time.unit.factor !== 1) return null;
    const shifts = this.shifts.slice();
    shifts[time.column] = time.unit.decimalShift;
    if (shifts.length > MOST_COLUMNS || shifts.some((shift) => shift < 0 || shift > LARGEST_SHIFT)) return null;
    const wanted = this.kinds.map((kind) => (kind === SKIP ? 0 : 1));
    return { delimiter, decimal, newline: this.newline, wanted, shifts, timeColumn: time.column };
  }

  /** Reads plain rows from `at` on; returns where the first other row begins. */
  private plainRows(bytes: Uint8Array, start: number, end: number, plain: PlainRows): number {
    const { times, timeReader } = this.sink;
    let at = start;
    while (at < end) {
      const rowCount = plain.read(bytes, at, end);
      if (rowCount === 0) break;
      at = plain.at;
      this.sink.markLine(this.nextLine);
      this.nextLine += rowCount;
      times.append(rowCount, (into, from) => plain.copy(plain.timeColumn, rowCount, into, from));
      for (const { column, series } of this.sinks) {
        series.append(rowCount, (into, from) => plain.copy(column.index, rowCount, into, from));
      }
    }
    if (plain.timeDecimals > timeReader.decimals) timeReader.decimals = plain.timeDecimals;
    this.nextPause = at === start ? Math.min(2 * this.nextPause, LONGEST_PAUSE) : 1;
    this.pause = this.nextPause;
    return at;
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
      if (this.plain !== null && this.pause === 0) {
        at = this.plainRows(bytes, at, end, this.plain);
        if (at === end) break;
      }
      if (this.pause > 0) this.pause -= 1;
      const next = this.able ? this.row(bytes, at, this.nextLine) : IRREGULAR;
      if (next !== IRREGULAR) {
        at = next;
        this.nextLine += 1;
        piece = 1;
        continue;
      }
      const textEnd = rowsEnd(bytes, at, end, { count: piece, newline: this.newline });
      if (textEnd === at) break;
      this.textLane(bytes, at, textEnd, this.nextLine);
      this.times.shortcut.learn(this.sink.lastTimeCell, this.sink.lastDateCell);
      this.lineLead = Number.NaN;
      for (; at < textEnd; at += 1) if (bytes[at] === this.newline) this.nextLine += 1;
      piece = Math.min(2 * piece, TEXT_ROWS);
    }
    this.plain?.release();
    return at;
  }

  /** Reads one row; returns where the next begins, or `IRREGULAR` with nothing taken. */
  private row(bytes: Uint8Array, start: number, line: number): number {
    if (COMMENT_STARTS.has(bytes[start]!)) return IRREGULAR;
    let p = start;
    const { delimiter, spaced } = this.numbers;
    for (let column = 0; column <= this.lastColumn; column += 1) {
      if (spaced) while (bytes[p] === SPACE || bytes[p] === TAB) p += 1;
      p = this.cell(bytes, p, column, line);
      if (p < 0) return IRREGULAR;
      if (column < this.lastColumn) {
        if (bytes[p] !== delimiter && !(spaced && bytes[p] === TAB)) return IRREGULAR;
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
    const time = source.form === "interval" ? times.count * source.intervalS : this.times.time;
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
        const end = this.numbers.read(bytes, start, this.shifts[column]!);
        this.rowValues[column] = this.numbers.value;
        return end;
      }
      case TIME:
        return this.times.read(bytes, start, line);
      default:
        return this.times.readDate(bytes, start);
    }
  }

  private skip(bytes: Uint8Array, start: number): number {
    const { delimiter, spaced } = this.numbers;
    let p = start;
    for (let byte = bytes[p]; byte !== delimiter; byte = bytes[p]) {
      if (byte === QUOTE || byte === this.newline) return IRREGULAR;
      if (spaced && byte === TAB) return p;
      p += 1;
    }
    return p;
  }
}
