import { type CellKind, cellKind } from "./cell-kind.js";
import { type ColumnName, parseColumnName } from "./column-name.js";
import type { Dialect } from "./dialect.js";
import type { Header } from "./header.js";
import type { LogOptions } from "./log-options.js";
import { readNumber, scaledNumber } from "./number-cell.js";
import { rowCells, someRows, type TextRow } from "./text-rows.js";
import { type LogUnit, unitOf } from "./unit.js";

/** What the first rows tell about one column. */
export interface ColumnSurvey {
  /** From 0. */
  readonly index: number;
  /** As the header writes it; empty where it names none. */
  readonly title: string;
  /** As shown to people. */
  readonly label: string;
  readonly name: ColumnName;
  /** From the name or the units row; null where neither has one. */
  readonly unit: LogUnit | null;
  readonly kinds: Readonly<Partial<Record<CellKind, number>>>;
  /** The kind of most cells that hold anything. */
  readonly kind: CellKind;
  /** Cells with text, in order. */
  readonly cells: readonly string[];
  /** Numbers in order, unscaled. */
  readonly numbers: readonly number[];
  readonly decimals: number;
  /** Numbers never fall, and rise at least once. */
  readonly rising: boolean;
  /** Units written behind the numbers or in a column of units beside them. */
  readonly cellUnits: readonly LogUnit[];
}

/** Rows surveyed: so many from the start, and as many from the rest. */
const SURVEY_ROWS = 200;

/** Looks at every column of the first rows of readings. */
export function surveyColumns(
  rows: readonly TextRow[],
  dialect: Dialect,
  header: Header,
  options: LogOptions,
): ColumnSurvey[] {
  const missing = new Set((options.missing ?? []).map((word) => word.toLowerCase()));
  const filled = rows.filter((row) => row.line >= header.firstLine && row.text.trim() !== "");
  const readings = someRows(filled, SURVEY_ROWS);
  const table = readings.map((row) => rowCells(row.text, dialect.delimiter));
  const width = Math.max(dialect.columnCount, header.names.length);
  return Array.from({ length: width }, (_, index) => {
    const name = parseColumnName(header.names[index] ?? "");
    const column = table.map((cells) => cells[index] ?? "");
    const numbers = column.map((cell) => readNumber(cell, dialect.decimal, dialect.grouped)).filter((n) => n !== null);
    const values = numbers.map((n) => scaledNumber(n, 0));
    const kinds = countKinds(column.map((cell) => cellKind(cell, dialect.decimal, missing, dialect.grouped)));
    return {
      index,
      title: header.names[index] ?? "",
      label: columnLabel(index, header.names[index] ?? ""),
      name,
      unit: name.unit ?? header.units[index] ?? null,
      kinds,
      kind: commonKind(kinds),
      cells: column.filter((cell) => cell !== ""),
      numbers: values,
      decimals: numbers.reduce((most, n) => Math.max(most, n.decimals), 0),
      rising:
        values.every((v, i) => i === 0 || v >= values[i - 1]!) && values.length > 0 && values.at(-1)! > values[0]!,
      cellUnits: uniqueUnits([...numbers.map((n) => n.unit), ...(kinds.unit === undefined ? [] : column.map(unitOf))]),
    };
  });
}

function columnLabel(index: number, title: string): string {
  return title === "" ? `column ${index + 1}` : `column ${index + 1} '${title}'`;
}

function countKinds(kinds: readonly CellKind[]): Partial<Record<CellKind, number>> {
  const count: Partial<Record<CellKind, number>> = {};
  for (const kind of kinds) count[kind] = (count[kind] ?? 0) + 1;
  return count;
}

function commonKind(kinds: Readonly<Partial<Record<CellKind, number>>>): CellKind {
  const filled = (Object.entries(kinds) as [CellKind, number][]).filter(([kind]) => kind !== "empty");
  const values = filled.filter(([kind]) => kind !== "missing");
  return (values.length > 0 ? values : filled).sort((a, b) => b[1] - a[1])[0]?.[0] ?? "empty";
}

function uniqueUnits(units: readonly (LogUnit | null)[]): LogUnit[] {
  const seen = new Map<string, LogUnit>();
  for (const unit of units) if (unit !== null) seen.set(`${unit.symbol} ${unit.coupling}`, unit);
  return [...seen.values()];
}
