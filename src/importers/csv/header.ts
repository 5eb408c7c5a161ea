import { cellKind } from "./cell-kind.js";
import type { Dialect } from "./dialect.js";
import type { LogOptions } from "./log-options.js";
import { rowCells, type TextRow } from "./text-rows.js";
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
  const start = rows.findIndex(
    (row) => (told === undefined || row.line > told) && !isComment(row.text) && isReading(row.text, dialect),
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

/** A row of readings has a number or a stamp in it and about as many cells as the others. */
function isReading(text: string, dialect: Dialect): boolean {
  const cells = rowCells(text, dialect.delimiter);
  if (cells.length !== dialect.columnCount) return false;
  const kinds = cells.map((cell) => cellKind(cell, dialect.decimal));
  const values = kinds.filter(
    (kind) => kind === "number" || kind === "date-time" || kind === "clock" || kind === "date",
  );
  return values.length > 0 && (cells.length > 2 || values.length === cells.length || kinds[0] !== "text");
}

function findNames(above: readonly TextRow[], dialect: Dialect): TextRow | null {
  const plain = above.filter((row) => !isComment(row.text));
  const commented = above.filter((row) => isComment(row.text) && !isKeyValue(row.text));
  for (const pool of [plain, commented]) {
    const wide = pool.filter((row) => fits(headerCells(row.text, dialect), dialect));
    const last = wide.at(-1);
    if (last === undefined) continue;
    const before = wide.at(-2);
    // A row of units below the names is not the names.
    return before !== undefined && isUnitsRow(last.text, dialect) ? before : last;
  }
  return null;
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

function isUnitsRow(text: string, dialect: Dialect): boolean {
  const cells = headerCells(text, dialect);
  const filled = cells.filter((cell) => cell !== "" && cell !== "-");
  return (
    filled.length > 0 &&
    filled.every(
      (cell) => unitOf(cell) !== null || /^(\[|\()?(hh?:mm:ss|[dmy]{1,4}[-/.][dmy]{1,4}[-/.][dmy]{1,4}).*$/i.test(cell),
    )
  );
}

function isKeyValue(text: string): boolean {
  return /^[^,;\t|]{1,40}[:=]\s*\S/.test(text.replace(COMMENT, ""));
}

function contextOf(rows: readonly TextRow[], dialect: Dialect): Record<string, string> {
  const context: Record<string, string> = {};
  for (const row of rows) {
    const bare = row.text.replace(COMMENT, "").trim();
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
