import stringWidth from "string-width";
import { unbrokenFigures } from "../number-format.js";

/** Breaks a text at spaces into lines of at most so many columns, never inside a figure. */
export function wrappedLines(text: string, columns: number): string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of unbrokenFigures(text)
    .split(" ")
    .map((one) => one.replaceAll("\u00a0", " "))) {
    const longer = line === "" ? word : `${line} ${word}`;
    if (line === "" || stringWidth(longer) <= columns) line = longer;
    else {
      lines.push(line);
      line = word;
    }
  }
  return line === "" ? lines : [...lines, line];
}

/** Paragraphs behind a label at the margin. */
export function labelledLines(label: string, paragraphs: readonly string[], columns: number): string[] {
  return paragraphs
    .flatMap((one) => wrappedLines(one, columns - LABEL_WIDTH))
    .map((line, i) => `${(i === 0 ? label : "").padEnd(LABEL_WIDTH)}${line}`);
}

const LABEL_WIDTH = 11;

/** Rows as columns; the last column wraps. */
export function columnLines(rows: readonly (readonly string[])[], columns: number): string[] {
  const last = (rows[0]?.length ?? 1) - 1;
  const widths = Array.from({ length: last }, (_, i) => Math.max(...rows.map((row) => stringWidth(row[i]!))));
  const indent = widths.reduce((sum, width) => sum + width + 2, 0);
  return rows.flatMap((row) => {
    const head = widths.map((width, i) => `${row[i]}${" ".repeat(width - stringWidth(row[i]!))}  `).join("");
    const tail = wrappedLines(row[last]!, Math.max(20, columns - indent));
    return [`${head}${tail[0] ?? ""}`.trimEnd(), ...tail.slice(1).map((line) => `${" ".repeat(indent)}${line}`)];
  });
}
