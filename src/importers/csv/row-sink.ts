import { InputError } from "../input-error.js";
import type { ValueColumn } from "./column-choice.js";
import { dimensionOf } from "./column-choice.js";
import type { GrowableSeries } from "./growable-series.js";
import type { LogFinding } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { LogPlan } from "./log-plan.js";
import { isMissing, isNotANumber, readNumber, scaledNumber } from "./number-cell.js";
import { type FileRows, markLine, type SeriesSet, type ValueRole } from "./series-set.js";
import { meet, type Tally, tally } from "./tally.js";
import { type TimeReader, unreadable } from "./time-reader.js";
import { unitOf } from "./unit.js";

/** One series of readings under way, in V, A or the temperature's own unit; NaN where a row has none. */
export interface ValueSink {
  readonly role: ValueRole;
  readonly column: ValueColumn;
  readonly series: GrowableSeries;
  readonly missing: Tally;
  readonly notANumber: Tally;
  readonly alternating: Tally;
  readonly units: Set<string>;
}

/** The most of the readings that may read NaN before the log is refused. */
const NAN_SHARE = 0.02;

/** Text rows that are left out before they are refused: loggers write messages among the readings, but few. */
const TEXT_ROWS = 20;

/** What stands in place of a time in the lines of a summary below the readings. */
const SUMMARY_WORDS =
  /^(min|max|minimum|maximum|avg|average|mean|median|std|st\.? ?dev|sum|total|count|range|rms|mittelwert|moyenne|media)\.?:?$/i;

/** A line of a summary that stands in a cell of its own: `Readings in all: 600`. */
const SUMMARY_LINE = /^\p{L}[\p{L} .]*[:=]/u;

/** Gathers the rows of one file, as text, into series of numbers. */
export class RowSink {
  readonly times: GrowableSeries;
  readonly values: readonly ValueSink[];
  readonly skipped = { "repeated-header": tally(), comment: tally(), text: tally() };
  readonly withoutTime = tally();
  /** The time and date cells of the row taken last; no date where it stands in the time cell. */
  lastTimeCell = "";
  lastDateCell: string | null = null;
  private readonly missingWords: ReadonlySet<string>;
  private readonly grouped: boolean;
  private readonly timeIndex: number | null;

  constructor(
    readonly plan: LogPlan,
    readonly timeReader: TimeReader,
    private readonly target: { readonly set: SeriesSet; readonly rows: FileRows },
    options: LogOptions,
  ) {
    this.times = target.set.times;
    this.missingWords = new Set((options.missing ?? []).map((word) => word.trim().toLowerCase()));
    this.grouped = plan.dialect.grouped;
    this.timeIndex = timeReader.source.form === "interval" ? null : timeReader.source.column;
    this.values = (["voltage", "current", "temperature", "uncertainty", "aside"] as const).flatMap((role) => {
      const column = plan[role];
      return column === null ? [] : [valueSink(role, column, target.set.series(role))];
    });
  }

  /** Rows of this file so far. */
  get rowCount(): number {
    return this.times.count - this.target.rows.startRow;
  }

  /** Takes one row. @throws {InputError} where a cell that should hold a time or a number holds something else. */
  take(cells: readonly string[], line: number): void {
    if (this.isHeader(cells)) meet(this.skipped["repeated-header"], line);
    else if (this.isText(cells)) this.skipText(cells, line);
    else {
      const time = this.timeReader.read(cells, this.times.count, line);
      if (Number.isNaN(time)) meet(this.withoutTime, line);
      else this.takeReadings(time, cells, line);
    }
  }

  private takeReadings(time: number, cells: readonly string[], line: number): void {
    this.rememberTimeCells(cells);
    const values = this.values.map((sink) => this.value(sink, cells, line));
    this.markLine(line);
    this.times.push(time);
    for (const [i, sink] of this.values.entries()) sink.series.push(values[i]!);
  }

  /** Whether a number stands for "no reading", which only the reader of text looks at. */
  get leavesNumbersOut(): boolean {
    return [...this.missingWords].some((word) => /\d/.test(word));
  }

  /** Remembers on which line the next row stands. */
  markLine(line: number): void {
    markLine(this.target.rows.lineMarks, this.times.count, line);
  }

  private rememberTimeCells(cells: readonly string[]): void {
    const { source } = this.timeReader;
    if (source.form !== "stamp" && source.form !== "clock") return;
    this.lastTimeCell = (cells[source.column] ?? "").trim();
    this.lastDateCell =
      source.form === "stamp" && source.dateColumn !== null ? (cells[source.dateColumn] ?? "").trim() : null;
  }

  private value(sink: ValueSink, cells: readonly string[], line: number): number {
    const cell = (cells[sink.column.index] ?? "").trim();
    const number = readNumber(cell, this.plan.dialect.decimal, this.grouped);
    if (number !== null && this.missingWords.has(cell.toLowerCase())) {
      meet(sink.missing, line);
      return Number.NaN;
    }
    if (number === null) {
      if (isMissing(cell, this.missingWords)) meet(sink.missing, line);
      else if (isNotANumber(cell)) meet(sink.notANumber, line);
      else throw unreadable(cell, sink.role, line);
      return Number.NaN;
    }
    const beside = sink.column.unitColumn === null ? null : unitOf(cells[sink.column.unitColumn] ?? "");
    const unit = number.unit ?? beside ?? sink.column.unit;
    if (unit.dimension !== dimensionOf(sink.role)) throw unreadable(cell, sink.role, line);
    if (unit.coupling === "ac" && sink.column.unit.coupling !== "ac") {
      meet(sink.alternating, line);
      return Number.NaN;
    }
    if (unit.symbol !== sink.column.unit.symbol) sink.units.add(unit.symbol);
    const value = scaledNumber(number, unit.decimalShift);
    if (Number.isFinite(value)) return value;
    meet(sink.notANumber, line);
    return Number.NaN;
  }

  /** A row of words without a digit where time and readings should be, such as a message of the logger. */
  private isText(cells: readonly string[]): boolean {
    if (this.timeIndex !== null && SUMMARY_WORDS.test((cells[this.timeIndex] ?? "").trim())) return true;
    const readings = this.values.map((sink) => cells[sink.column.index] ?? "");
    if (cells.length === 1 && this.values.some(({ column }) => column.index > 0) && SUMMARY_LINE.test(cells[0]!.trim()))
      return true;
    if (this.timeIndex !== null && /\d/.test(cells[this.timeIndex] ?? "")) return false;
    if (readings.some((cell) => /\d/.test(cell))) return false;
    return this.timeIndex !== null
      ? cells.some((cell) => /\p{L}|[-=*_]{3}/u.test(cell))
      : readings.some((cell) => /\p{L}/u.test(cell) && !isMissing(cell, this.missingWords) && !isNotANumber(cell));
  }

  private skipText(cells: readonly string[], line: number): void {
    if (this.isOtherHeader(cells)) {
      throw new InputError({
        line,
        problem: "the columns are named anew here, otherwise than above",
        remedy: "part the file at this line and analyze each recording by itself",
      });
    }
    meet(this.skipped.text, line);
    if (this.skipped.text.count > Math.max(TEXT_ROWS, 0.05 * this.rowCount)) {
      throw unreadable(cells.join(" ").trim(), "line", this.skipped.text.firstLine);
    }
  }

  private isHeader(cells: readonly string[]): boolean {
    const { names } = this.plan.header;
    return names.length > 0 && names.every((name, i) => name === (cells[i] ?? "").replace(/\s+/g, " ").trim());
  }

  /** A row of as many words as the header, some of which are its own: another file's header, where two were joined. */
  private isOtherHeader(cells: readonly string[]): boolean {
    const names = this.plan.header.names.map((name) => name.toLowerCase());
    const words = cells.map((cell) => cell.replace(/\s+/g, " ").trim().toLowerCase());
    const whole = words.length === names.length && words.length > 1 && words.every((word) => /\p{L}/u.test(word));
    return whole && words.some((word) => names.includes(word)) && words.some((word) => unitOf(word) === null);
  }

  /** Whether some row has no reading of that role. */
  hasBlanks(role: ValueRole): boolean {
    const sink = this.values.find((one) => one.role === role);
    return sink !== undefined && sink.missing.count + sink.notANumber.count + sink.alternating.count > 0;
  }

  /** What there is to say about the cells. @throws {InputError} where too many read NaN. */
  findings(): LogFinding[] {
    const found: LogFinding[] = [];
    for (const sink of this.values) {
      const { role, missing, notANumber, alternating } = sink;
      if (notANumber.count > NAN_SHARE * this.rowCount && role !== "temperature") throw tooManyNaN(sink, this.rowCount);
      if (missing.count > 0) {
        found.push({ code: "missing-cells", role, cellCount: missing.count, firstLine: missing.firstLine });
      }
      if (notANumber.count > 0) {
        found.push({ code: "not-a-number", role, cellCount: notANumber.count, firstLine: notANumber.firstLine });
      }
      if (alternating.count > 0) {
        const { count, firstLine } = alternating;
        found.push({ code: "alternating-left-out", role, cellCount: count, firstLine });
      }
      if (sink.units.size > 0) {
        found.push({ code: "unit-changes", role, units: [sink.column.unit.symbol, ...sink.units] });
      }
    }
    for (const what of ["repeated-header", "comment", "text"] as const) {
      const { count, firstLine } = this.skipped[what];
      if (count > 0) found.push({ code: "rows-skipped", what, rowCount: count, firstLine });
    }
    const { count, firstLine } = this.withoutTime;
    if (count > 0) found.push({ code: "rows-without-time", rowCount: count, firstLine });
    return found;
  }
}

function tooManyNaN(sink: ValueSink, rowCount: number): InputError {
  return new InputError({
    line: sink.notANumber.firstLine,
    problem: `${sink.notANumber.count} of ${rowCount} ${sink.role} cells read NaN or infinity, which is no ${sink.role}`,
    remedy: `record again, or say --missing NaN to leave such cells out`,
  });
}

function valueSink(role: ValueRole, column: ValueColumn, series: GrowableSeries): ValueSink {
  return {
    role,
    column,
    series,
    missing: tally(),
    notANumber: tally(),
    alternating: tally(),
    units: new Set(),
  };
}
