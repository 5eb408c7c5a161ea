import { GrowableSeries } from "./growable-series.js";

export type ValueRole = "voltage" | "current" | "temperature" | "uncertainty" | "aside";

/** Where a row stands in the files. */
export interface Place {
  readonly file: string;
  readonly line: number;
}

/** Where a row stands, for findings and faults. */
export type PlaceOf = (row: number) => Place;

/** Rows of one file within the whole: `[startRow, endRow)`. */
export interface FileRows {
  readonly file: string;
  readonly startRow: number;
  endRow: number;
  /** Whether its rows were turned round after reading. */
  newestFirst: boolean;
  /** Pairs of row number and line number, one wherever their difference changes. */
  readonly lineMarks: [row: number, line: number][];
}

/** The raw numbers of all files, row by row; NaN where a row has no reading. */
export class SeriesSet {
  readonly times: GrowableSeries;
  readonly values = new Map<ValueRole, GrowableSeries>();
  readonly files: FileRows[] = [];
  /** Series that have no reading in some rows because a file has no such column. */
  readonly partial = new Set<ValueRole>();

  private expectedCount = 1024;

  constructor() {
    this.times = new GrowableSeries(this.expectedCount);
  }

  /** Makes room for that many rows in all. */
  expect(count: number): void {
    this.expectedCount = Math.max(this.expectedCount, Math.ceil(count));
    this.times.reserve(this.expectedCount);
    for (const series of this.values.values()) series.reserve(this.expectedCount);
  }

  get rowCount(): number {
    return this.times.count;
  }

  /** The series of that role; rows read before it was asked for have no reading in it. */
  series(role: ValueRole): GrowableSeries {
    let found = this.values.get(role);
    if (found === undefined) {
      found = new GrowableSeries(this.expectedCount);
      this.values.set(role, found);
    }
    if (fillBlank(found, this.rowCount)) this.partial.add(role);
    return found;
  }

  /** Begins the rows of another file. */
  open(file: string): FileRows {
    const rows: FileRows = { file, startRow: this.rowCount, endRow: this.rowCount, newestFirst: false, lineMarks: [] };
    this.files.push(rows);
    return rows;
  }

  /** Ends the rows of that file; series without a column in it have no reading there. */
  close(rows: FileRows): void {
    rows.endRow = this.rowCount;
    for (const [role, series] of this.values) if (fillBlank(series, this.rowCount)) this.partial.add(role);
  }

  /** Takes back the rows of the file opened last. */
  rewind(rows: FileRows): void {
    this.times.count = rows.startRow;
    for (const series of this.values.values()) series.count = Math.min(series.count, rows.startRow);
    this.files.pop();
  }

  placeOf(row: number): Place {
    const rows = this.files.find((file) => row >= file.startRow && row < file.endRow) ?? this.files.at(-1)!;
    const written = rows.newestFirst ? rows.startRow + rows.endRow - 1 - row : row;
    return { file: rows.file, line: lineOf(rows.lineMarks, written) };
  }
}

/** Remembers on which line a row stands. */
export function markLine(marks: [row: number, line: number][], row: number, line: number): void {
  const last = marks.at(-1);
  if (last === undefined || line - last[1] !== row - last[0]) marks.push([row, line]);
}

function lineOf(marks: readonly (readonly [number, number])[], row: number): number {
  let low = 0;
  let high = marks.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (marks[middle]![0] <= row) low = middle;
    else high = middle - 1;
  }
  const mark = marks[low];
  return mark === undefined ? row + 1 : mark[1] + row - mark[0];
}

/** Whether there was anything to fill. */
function fillBlank(series: GrowableSeries, count: number): boolean {
  if (series.count >= count) return false;
  series.reserve(count);
  series.values.fill(Number.NaN, series.count, count);
  series.count = count;
  return true;
}
