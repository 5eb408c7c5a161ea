import { InputError } from "../input-error.js";
import type { ValueColumn } from "./column-choice.js";
import { GrowableSeries } from "./growable-series.js";
import type { LogFinding } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { LogPlan } from "./log-plan.js";
import { isMissing, isNotANumber, readNumber, scaledNumber } from "./number-cell.js";
import { type TimeReader, unreadable } from "./time-reader.js";
import { unitOf } from "./unit.js";

/** One series of readings under way, in V, A or degrees Celsius; NaN where a row has none. */
export interface ValueSink {
  readonly role: "voltage" | "current" | "temperature";
  readonly column: ValueColumn;
  readonly series: GrowableSeries;
  missing: Tally;
  notANumber: Tally;
  alternating: Tally;
  readonly units: Set<string>;
}

/** How often something was met, and where first. */
export interface Tally {
  count: number;
  firstLine: number;
}

/** The most of the readings that may read NaN before the log is refused. */
const NAN_SHARE = 0.02;

/** Gathers rows of text into series of numbers. */
export class RowSink {
  readonly times: GrowableSeries;
  readonly values: readonly ValueSink[];
  readonly skipped = { "repeated-header": tally(), comment: tally(), text: tally() };
  readonly withoutTime = tally();
  /** Pairs of row number and line number, one wherever their difference changes. */
  readonly lineMarks: [row: number, line: number][] = [];
  private readonly missingWords: ReadonlySet<string>;
  private readonly grouped: boolean;

  constructor(
    readonly plan: LogPlan,
    readonly timeReader: TimeReader,
    options: LogOptions,
    expectedCount: number,
  ) {
    this.times = new GrowableSeries(expectedCount);
    this.missingWords = new Set((options.missing ?? []).map((word) => word.trim().toLowerCase()));
    this.grouped = options.decimal !== undefined;
    this.values = (["voltage", "current", "temperature"] as const).flatMap((role) => {
      const column = plan[role];
      return column === null ? [] : [valueSink(role, column, expectedCount)];
    });
  }

  get rowCount(): number {
    return this.times.count;
  }

  /** Takes one row. @throws {InputError} where a cell that should hold a time or a number holds something else. */
  take(cells: readonly string[], line: number): void {
    if (this.isText(cells)) {
      meet(this.skipped[this.isHeader(cells) ? "repeated-header" : "text"], line);
      return;
    }
    const time = this.timeReader.read(cells, this.rowCount, line);
    if (Number.isNaN(time)) {
      meet(this.withoutTime, line);
      return;
    }
    const values = this.values.map((sink) => this.value(sink, cells, line));
    this.markLine(line);
    this.times.push(time);
    this.values.forEach((sink, i) => {
      sink.series.push(values[i]!);
    });
  }

  /** Remembers on which line the next row stands. */
  markLine(line: number): void {
    const last = this.lineMarks.at(-1);
    if (last === undefined || line - last[1] !== this.rowCount - last[0]) this.lineMarks.push([this.rowCount, line]);
  }

  lineOf(row: number): number {
    let low = 0;
    let high = this.lineMarks.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.lineMarks[middle]![0] <= row) low = middle;
      else high = middle - 1;
    }
    const mark = this.lineMarks[low];
    return mark === undefined ? row + 1 : mark[1] + row - mark[0];
  }

  private value(sink: ValueSink, cells: readonly string[], line: number): number {
    const cell = (cells[sink.column.index] ?? "").trim();
    const number = readNumber(cell, this.plan.dialect.decimal, this.grouped);
    if (number === null) {
      if (isMissing(cell, this.missingWords)) meet(sink.missing, line);
      else if (isNotANumber(cell)) meet(sink.notANumber, line);
      else throw unreadable(cell, sink.role, line);
      return Number.NaN;
    }
    const beside = sink.column.unitColumn === null ? null : unitOf(cells[sink.column.unitColumn] ?? "");
    const unit = number.unit ?? beside ?? sink.column.unit;
    if (unit.dimension !== sink.role) throw unreadable(cell, sink.role, line);
    if (unit.coupling === "ac" && sink.column.unit.coupling !== "ac") {
      meet(sink.alternating, line);
      return Number.NaN;
    }
    if (unit !== sink.column.unit) sink.units.add(unit.symbol);
    return inBaseUnit(scaledNumber(number, unit.decimalShift), unit.symbol);
  }

  /** A row without any digit in the cells that matter: a repeated header, a message of the logger. */
  private isText(cells: readonly string[]): boolean {
    const source = this.timeReader.source;
    const indexes = [
      ...this.values.map((sink) => sink.column.index),
      ...(source.form === "interval" ? [] : [source.column]),
    ];
    if (this.isHeader(cells)) return true;
    if (indexes.some((index) => /\d/.test(cells[index] ?? ""))) return false;
    return (
      cells.some((cell) => /\p{L}/u.test(cell)) &&
      (source.form === "interval"
        ? !isMissing(cells[indexes[0]!] ?? "", this.missingWords)
        : (cells[source.column] ?? "") !== "" || cells.length < this.plan.dialect.columnCount)
    );
  }

  private isHeader(cells: readonly string[]): boolean {
    const { names } = this.plan.header;
    return names.length > 0 && names.every((name, i) => name === (cells[i] ?? "").trim());
  }

  /** What there is to say about the cells. @throws {InputError} where too many read NaN. */
  findings(): LogFinding[] {
    const found: LogFinding[] = [];
    for (const sink of this.values) {
      const { role } = sink;
      if (sink.notANumber.count > NAN_SHARE * this.rowCount && role !== "temperature") {
        throw new InputError({
          line: sink.notANumber.firstLine,
          problem: `${sink.notANumber.count} of ${this.rowCount} ${role} cells read NaN or infinity, which is no ${role}`,
          remedy: "record again, or leave such cells empty",
        });
      }
      if (sink.missing.count > 0)
        found.push({ code: "missing-cells", role, cellCount: sink.missing.count, firstLine: sink.missing.firstLine });
      if (sink.notANumber.count > 0)
        found.push({
          code: "not-a-number",
          role,
          cellCount: sink.notANumber.count,
          firstLine: sink.notANumber.firstLine,
        });
      if (sink.alternating.count > 0)
        found.push({
          code: "alternating-left-out",
          role,
          cellCount: sink.alternating.count,
          firstLine: sink.alternating.firstLine,
        });
      if (sink.units.size > 0)
        found.push({ code: "unit-changes", role, units: [sink.column.unit.symbol, ...sink.units] });
    }
    for (const what of ["repeated-header", "comment", "text"] as const) {
      const { count, firstLine } = this.skipped[what];
      if (count > 0) found.push({ code: "rows-skipped", what, rowCount: count, firstLine });
    }
    if (this.withoutTime.count > 0)
      found.push({
        code: "rows-without-time",
        rowCount: this.withoutTime.count,
        firstLine: this.withoutTime.firstLine,
      });
    return found;
  }
}

function tally(): Tally {
  return { count: 0, firstLine: 0 };
}

export function meet(tally: Tally, line: number): void {
  if (tally.count === 0) tally.firstLine = line;
  tally.count += 1;
}

function valueSink(role: ValueSink["role"], column: ValueColumn, expectedCount: number): ValueSink {
  return {
    role,
    column,
    series: new GrowableSeries(expectedCount),
    missing: tally(),
    notANumber: tally(),
    alternating: tally(),
    units: new Set(),
  };
}

function inBaseUnit(value: number, symbol: string): number {
  if (symbol === "K") return value - 273.15;
  return symbol === "F" ? ((value - 32) * 5) / 9 : value;
}
