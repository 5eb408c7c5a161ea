import { type CellKind, cellKind } from "./cell-kind.js";
import { parseColumnName, roleScore } from "./column-name.js";
import type { Dialect } from "./dialect.js";
import type { LogOptions } from "./log-options.js";
import { rowCells, someRows, type TextRow } from "./text-rows.js";
import { type LogUnit, unitOf } from "./unit.js";

/** What stands above the first row of readings. */
export interface Header {
  /** Names as written; empty texts where the log names none. */
  readonly names: readonly string[];
  /** Units of a row of their own; null where a column has none. */
  readonly units: readonly (LogUnit | null)[];
  /** Text of the header row, for recognizing its repeats; null without a header. */
  readonly text: string | null;
  readonly line: number | null;
  /** Line of the first reading. */
  readonly firstLine: number;
  /** `key: value` lines above the readings. */
  readonly context: Readonly<Record<string, string>>;
}

const COMMENT = /^\s*["']?(#|%|\/\/|\*|!)+\s*/;

/** Whether a row is a comment. */
export function isComment(text: string): boolean {
  return COMMENT.test(text);
}

/** Reads everything above the first row of readings. */
export function readHeader(rows: readonly TextRow[], dialect: Dialect, options: LogOptions): Header {
  const told = options.headerLine;
  const isReading = readingTest(rows, dialect);
  const start = rows.findIndex(
    (row) => (told === undefined || row.line > told) && !isComment(row.text) && isReading(row.text),
  );
  const firstIndex = start < 0 ? rows.length : start;
  const above = rows.slice(0, firstIndex).filter((row) => row.text.trim() !== "");
  const named = told === undefined ? findNames(above, dialect) : (above.find((row) => row.line === told) ?? null);
  const names = named === null ? [] : headerCells(named.text, dialect);
  const unitsRow = above.find((row) => named !== null && row.line > named.line && isUnitsRow(row.text, dialect));
  return {
    names,
    units: unitsRow === undefined ? [] : headerCells(unitsRow.text, dialect).map((cell) => unitOf(cell)),
    text: named?.text ?? null,
    line: named?.line ?? null,
    firstLine: rows[firstIndex]?.line ?? (rows.at(-1)?.line ?? 0) + 1,
    context: contextOf(
      above.filter((row) => row !== named && row !== unitsRow),
      dialect,
    ),
  };
}

/** Rows from which it is learnt which columns hold values. */
const LEARNT_ROWS = 100;
/** Share of rows in which such a column holds a value. */
const VALUE_SHARE = 0.9;

/**
 * The test of a row of readings: as many cells as the others, a number or a stamp in it, and no words where nearly all
 * rows hold values. Facts above the readings may have as many cells and a number among them.
 */
function readingTest(rows: readonly TextRow[], dialect: Dialect): (text: string) => boolean {
  const kindsOf = (text: string): readonly CellKind[] | null => {
    const cells = rowCells(text, dialect.delimiter);
    return cells.length === dialect.columnCount ? cells.map((cell) => cellKind(cell, dialect.decimal)) : null;
  };
  const filled = rows.filter(({ text }) => text !== "" && !isComment(text));
  const table = someRows(filled, LEARNT_ROWS)
    .map(({ text }) => kindsOf(text))
    .filter((kinds) => kinds?.some(isValue) === true)
    .map((kinds) => kinds!);
  const isValued = Array.from(
    { length: dialect.columnCount },
    (_, i) => table.filter((kinds) => isValue(kinds[i]!)).length > VALUE_SHARE * table.length,
  );
  return (text) => {
    const kinds = kindsOf(text);
    if (kinds?.some(isValue) !== true) return false;
    if (kinds.some((kind, i) => isValued[i] && (kind === "text" || kind === "unit"))) return false;
    return kinds.length > 2 || kinds.every(isValue) || kinds[0] !== "text";
  };
}

function isValue(kind: CellKind): boolean {
  return kind === "number" || kind === "date-time" || kind === "clock" || kind === "date";
}

/** The row whose cells name columns best; the last of equals, and comments only where no other row will do. */
function findNames(above: readonly TextRow[], dialect: Dialect): TextRow | null {
  const plain = above.filter((row) => !isComment(row.text));
  const commented = above.filter((row) => isComment(row.text) && !isKeyValue(row.text));
  for (const pool of [plain, commented]) {
    const wide = pool.filter((row) => fits(headerCells(row.text, dialect), dialect));
    const scores = wide.map((row) => namingScore(headerCells(row.text, dialect)));
    const best = scores.lastIndexOf(Math.max(...scores));
    if (best < 0 || (pool === commented && scores[best] === 0)) continue;
    // A row of bare units below a row of unknown words is not the names.
    const before = wide[best - 1];
    return before !== undefined && isUnitsRow(wide[best]!.text, dialect) ? before : wide[best]!;
  }
  return null;
}

/** How well the cells tell what stands below them. */
function namingScore(cells: readonly string[]): number {
  return cells.reduce((sum, cell) => {
    if (unitOf(cell) !== null) return sum;
    const { words } = parseColumnName(cell);
    return (
      sum +
      Math.max(
        ...(["time", "date", "voltage", "current", "temperature"] as const).map((role) => roleScore(words, role)),
      )
    );
  }, 0);
}

function fits(cells: readonly string[], dialect: Dialect): boolean {
  if (cells.every((cell) => cell === "")) return false;
  return dialect.columnCount === 1 ? cells.length === 1 : cells.length >= Math.max(2, dialect.columnCount - 2);
}

function headerCells(text: string, dialect: Dialect): string[] {
  return rowCells(isComment(text) ? text.replace(COMMENT, "") : text, dialect.delimiter).map((cell) =>
    cell.replace(/\s+/g, " ").trim(),
  );
}

/** Units below their names; beside them stand blanks, short words and patterns of dates. */
function isUnitsRow(text: string, dialect: Dialect): boolean {
  const cells = headerCells(text, dialect).filter((cell) => cell !== "");
  const pattern = /^(\[|\()?(hh?:mm:ss|[dmy]{1,4}[-/.][dmy]{1,4}[-/.][dmy]{1,4}|(units?|einheit(en)?)\W*$)/i;
  const units = cells.filter((cell) => unitOf(cell) !== null).length;
  return units > 0 && cells.every((cell) => unitOf(cell) !== null || cell.length <= 3 || pattern.test(cell));
}

function isKeyValue(text: string): boolean {
  return /^[^,;\t|]{1,40}[:=]\s*\S/.test(text.replace(COMMENT, ""));
}

/** Longest line of the preamble that is kept. */
const LONGEST_CONTEXT = 1000;

function contextOf(rows: readonly TextRow[], dialect: Dialect): Record<string, string> {
  const context: Record<string, string> = {};
  for (const row of rows) {
    const bare = row.text.replace(COMMENT, "").trim().slice(0, LONGEST_CONTEXT);
    const pair = /^([^:=,;\t|]{1,60}?)\s*[:=]\s*(.+?)[\s,;]*$/.exec(bare);
    if (pair !== null) {
      context[pair[1]!.replace(/^"|"$/g, "")] = pair[2]!.replace(/^"|"$/g, "");
      continue;
    }
    const cells = rowCells(bare, dialect.delimiter).filter((cell) => cell !== "");
    if (cells.length === 2 && dialect.delimiter !== "space") context[cells[0]!.replace(/\s*:$/, "")] = cells[1]!;
  }
  return context;
}
