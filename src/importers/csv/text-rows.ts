import { CsvError, parse } from "csv-parse/sync";

/** A character between columns; `space` stands for any run of spaces and tabs. */
export type Delimiter = "," | ";" | "tab" | "|" | "space";

/** One row of a log as text, with the line it starts on, counted from 1. */
export interface TextRow {
  readonly line: number;
  readonly text: string;
}

/**
 * Parts a text into rows; a quoted cell may hold line ends. `cut` says that the text stops in mid file.
 *
 * Returns end lines only where there is no line feed, as for the readers of bytes, or line numbers would differ. Several
 * stand before a line feed where a program wrote ends of lines through a layer that writes its own.
 */
export function textRows(text: string, cut: boolean): TextRow[] {
  const lines = text.split(text.includes("\n") ? /\r*\n/ : /\r/);
  if (cut || lines.at(-1) === "") lines.pop();
  const rows: TextRow[] = [];
  for (let i = 0; i < lines.length; i += 1) {
    const start = i;
    let row = lines[i]!;
    while (hasOpenQuote(row) && i + 1 < lines.length && i - start < 20) {
      i += 1;
      row += `\n${lines[i]}`;
    }
    // A lone quote that never closes is a character like any other.
    if (hasOpenQuote(row)) {
      i = start;
      row = lines[start]!;
    }
    rows.push({ line: start + 1, text: row });
  }
  return rows;
}

function hasOpenQuote(text: string): boolean {
  let quoteCount = 0;
  for (let at = text.indexOf('"'); at >= 0; at = text.indexOf('"', at + 1)) quoteCount += 1;
  return quoteCount % 2 === 1;
}

/** The first rows, and as many again from all over the rest: enough to know a log by. */
export function someRows<T>(rows: readonly T[], count: number): readonly T[] {
  if (rows.length <= 2 * count) return rows;
  const stride = (rows.length - count) / count;
  return [...rows.slice(0, count), ...Array.from({ length: count }, (_, i) => rows[count + Math.floor(i * stride)]!)];
}

/** The cells of one row, without surrounding spaces. */
export function rowCells(row: string, delimiter: Delimiter): string[] {
  if (delimiter === "space") return row.trim().split(/\s+/);
  const plain = (): string[] => row.split(delimiterCharacter(delimiter)).map((cell) => cell.trim());
  if (!row.includes('"')) return plain();
  const table = tableCells(row, delimiter);
  return table?.length === 1 ? table[0]! : plain().map((cell) => cell.replace(/^"|"$/g, ""));
}

/** The cells of many rows; null where quotes do not pair as they should. */
export function tableCells(text: string, delimiter: Delimiter): string[][] | null {
  try {
    const table: string[][] = parse(text, {
      delimiter: delimiterCharacter(delimiter),
      relax_column_count: true,
      relax_quotes: true,
      skip_empty_lines: true,
      trim: delimiter !== "tab",
      record_delimiter: ["\r\n", "\n", "\r"],
    });
    return table.map((cells) => cells.map((cell) => cell.trim()));
  } catch (fault) {
    if (fault instanceof CsvError) return null;
    throw fault;
  }
}

export function delimiterCharacter(delimiter: Delimiter): string {
  if (delimiter === "tab") return "\t";
  return delimiter === "space" ? " " : delimiter;
}
