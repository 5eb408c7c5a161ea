import { QUOTE } from "./bytes.js";

/** Lines that an open quote may run on before it counts as a character like any other. */
const QUOTED_LINES = 20;

/** Where the next `count` rows end, or as many of them as are whole; `at` where none is. */
export function rowsEnd(
  bytes: Uint8Array,
  at: number,
  end: number,
  rows: { readonly count: number; readonly newline: number },
): number {
  let rowStart = at;
  for (let row = 0; row < rows.count && rowStart < end; row += 1) {
    const next = rowEnd(bytes, rowStart, end, rows.newline);
    if (next === rowStart) break;
    rowStart = next;
  }
  return rowStart;
}

/** Where the row ends, which may hold line ends within quotes; `start` where it goes on behind `end`. */
function rowEnd(bytes: Uint8Array, start: number, end: number, newline: number): number {
  let quoted = false;
  let firstEnd = -1;
  let lines = 0;
  for (let p = start; p < end; p += 1) {
    if (bytes[p] === QUOTE) quoted = !quoted;
    if (bytes[p] !== newline) continue;
    if (firstEnd < 0) firstEnd = p + 1;
    if (!quoted) return p + 1;
    lines += 1;
    if (lines === QUOTED_LINES) return firstEnd;
  }
  return start;
}
