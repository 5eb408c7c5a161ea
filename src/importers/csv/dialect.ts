import { InputError } from "../input-error.js";
import { type CellKind, cellKind } from "./cell-kind.js";
import type { LogOptions } from "./log-options.js";
import { type DecimalSign, isGrouped } from "./number-cell.js";
import { type Delimiter, rowCells, someRows, type TextRow } from "./text-rows.js";

/** How the rows of a log are written. */
export interface Dialect {
  readonly delimiter: Delimiter;
  readonly decimal: DecimalSign;
  readonly columnCount: number;
  /** Whether any number among the rows looked at has a decimal sign. */
  readonly decimalSeen: boolean;
  /** Whether the person or a number such as `1.234,5` told that the other sign parts the thousands. */
  readonly grouped: boolean;
}

/** Rows looked at to find the dialect: so many from the start, and as many from the rest. */
const SAMPLE_ROWS = 100;
const DELIMITERS: readonly Delimiter[] = [",", ";", "tab", "|", "space"];

interface Hypothesis extends Dialect {
  /** Rows of that many columns with a value in them. */
  readonly rowCount: number;
  readonly valuesPerRow: number;
}

/**
 * Finds delimiter and decimal sign from the first rows.
 *
 * @throws {InputError} where no row holds numbers, or where a comma may be either sign and nothing settles it.
 */
export function findDialect(rows: readonly TextRow[], options: LogOptions): Dialect {
  const filled = rows.filter((row) => row.text.trim() !== "" && !/^\s*(#|%|\/\/)/.test(row.text));
  const sample = someRows(filled, SAMPLE_ROWS);
  const hypotheses: Hypothesis[] = [];
  for (const delimiter of options.delimiter === undefined ? DELIMITERS : [options.delimiter]) {
    for (const decimal of options.decimal === undefined ? ([".", ","] as const) : [options.decimal]) {
      if (delimiter === "," && decimal === "," && !sample.some((row) => row.text.includes('"'))) continue;
      const tried = tryDialect(sample, delimiter, decimal, options);
      if (tried !== null) hypotheses.push(tried);
    }
  }
  const best = bestOf(hypotheses);
  if (best === null) {
    refuseNamedNumbers(sample);
    throw new InputError({
      problem: "no rows of numbers were found in this file",
      remedy: "give a text log with one reading per line, or name its --delimiter and --decimal",
    });
  }
  refuseTwoSigns(best, sample, options);
  refuseDoubtfulComma(best, hypotheses, sample, options);
  return best;
}

/** @throws {InputError} where every number stands behind its own name. */
function refuseNamedNumbers(sample: readonly TextRow[]): void {
  const named = sample.filter((row) => /\p{L}["']?\s*[:=]\s*[-+]?[\d.]/u.test(row.text));
  if (named.length < 3 || named.length < 0.8 * sample.length) return;
  throw new InputError({
    line: named[0]!.line,
    problem: "each number stands behind its own name here",
    remedy: "write the readings as columns below one line of names",
  });
}

function tryDialect(
  sample: readonly TextRow[],
  delimiter: Delimiter,
  decimal: DecimalSign,
  options: LogOptions,
): Hypothesis | null {
  const missing = new Set((options.missing ?? []).map((word) => word.toLowerCase()));
  const countByWidth = new Map<number, number>();
  let joinedCount = 0;
  let rowCount = 0;
  let valueCount = 0;
  let decimalSeen = false;
  const table = sample.map((row) => rowCells(row.text, delimiter));
  const grouped =
    options.decimal !== undefined || table.some((cells) => cells.some((cell) => isGrouped(cell, decimal)));
  for (const cells of table) {
    const kinds = cells.map((cell) => cellKind(cell, decimal, missing, grouped));
    const values = kinds.filter(isValue).length;
    if (values === 0) continue;
    rowCount += 1;
    valueCount += values;
    if (kinds.includes("joined")) joinedCount += 1;
    countByWidth.set(cells.length, (countByWidth.get(cells.length) ?? 0) + 1);
    decimalSeen ||= cells.some((cell, i) => kinds[i] === "number" && cell.includes(decimal));
  }
  if (rowCount === 0 || joinedCount > 0.1 * rowCount) return null;
  const [columnCount, usualCount] = [...countByWidth].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0]!;
  return {
    delimiter,
    decimal,
    columnCount,
    decimalSeen,
    grouped,
    rowCount: usualCount,
    valuesPerRow: valueCount / rowCount,
  };
}

function isValue(kind: CellKind): boolean {
  return kind === "number" || kind === "date-time" || kind === "clock" || kind === "date";
}

/** The most rows count first; then columns beat none, and a run of spaces counts as a delimiter only where nothing else does. */
function bestOf(hypotheses: readonly Hypothesis[]): Hypothesis | null {
  const most = Math.max(0, ...hypotheses.map((h) => h.rowCount));
  // A header may hold a number by one delimiter and none by another, and be a fourth of a short log.
  const able = hypotheses.filter((h) => h.rowCount >= 0.8 * most || (most > 3 && h.rowCount === most - 1));
  const parted = able.filter((h) => h.columnCount > 1 && h.delimiter !== "space");
  const pool = parted.length > 0 ? parted : able;
  return [...pool].sort((a, b) => b.valuesPerRow - a.valuesPerRow || b.rowCount - a.rowCount)[0] ?? null;
}

/** @throws {InputError} where `"25,200"` stands beside `0.2` in most rows parted by commas. */
function refuseTwoSigns({ delimiter, decimal }: Hypothesis, sample: readonly TextRow[], options: LogOptions): void {
  if (delimiter !== "," || decimal !== "," || options.decimal !== undefined) return;
  const mixed = sample.filter(({ text }) => {
    const cells = rowCells(text, delimiter).map((cell) => cell.trim());
    return cells.some((cell) => /^-?\d+\.\d+$/.test(cell)) && cells.some((cell) => /^-?\d{1,3}(,\d{3})+$/.test(cell));
  });
  if (mixed.length < 0.5 * sample.length) return;
  throw new InputError({
    line: mixed[0]!.line,
    problem: "the '.' is a decimal sign here, and the ',' in another cell may be one too or part the thousands",
    remedy: "say --decimal . if it parts the thousands (a log with two decimal signs must be exported anew)",
  });
}

function refuseDoubtfulComma(
  best: Hypothesis,
  hypotheses: readonly Hypothesis[],
  sample: readonly TextRow[],
  options: LogOptions,
): void {
  if (best.delimiter !== "," || options.decimal !== undefined) return;
  const rival = hypotheses.find(
    (h) => h.decimal === "," && h.delimiter !== "," && h.decimalSeen && h.rowCount >= best.rowCount,
  );
  const headerWidth = headerCellCount(sample, best);
  const settledByHeader = headerWidth === best.columnCount;
  const doubled = headerWidth !== null && best.columnCount === 2 * headerWidth && !best.decimalSeen;
  if (doubled && options.delimiter !== undefined && options.headerLine === undefined) {
    throw new InputError({
      problem: `each row has ${best.columnCount} cells by the comma below ${headerWidth} names, so it seems to be the decimal sign too`,
      remedy:
        "export the log anew with another delimiter, or say --header-line 0 and name the columns by their numbers",
    });
  }
  if (options.delimiter !== undefined) return;
  if ((rival === undefined || settledByHeader) && !doubled) return;
  throw new InputError({
    line: sample.find((row) => row.text.includes(",") && /^[\s\d,;.+-]+$/.test(row.text))?.line ?? 1,
    problem: "a comma may part the columns here or be the decimal sign, and nothing in the file settles it",
    remedy: "say --delimiter , or --decimal , (a log that uses it for both at once must be exported anew)",
  });
}

function headerCellCount(sample: readonly TextRow[], dialect: Dialect): number | null {
  for (const row of sample) {
    const cells = rowCells(row.text, dialect.delimiter);
    const kinds = cells.map((cell) => cellKind(cell, dialect.decimal));
    if (kinds.some(isValue)) return null;
    if (kinds.some((kind) => kind === "text" || kind === "unit") && cells.length <= dialect.columnCount) {
      const next = sample[sample.indexOf(row) + 1];
      if (
        next !== undefined &&
        rowCells(next.text, dialect.delimiter).some((cell) => isValue(cellKind(cell, dialect.decimal)))
      ) {
        return cells.length;
      }
    }
  }
  return null;
}
