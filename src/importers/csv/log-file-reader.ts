import { InputError } from "../input-error.js";
import type { DateOrder } from "./date-order.js";
import { type EncodingFound, findEncoding, textDecoder } from "./encoding.js";
import { isComment } from "./header.js";
import type { LogOptions } from "./log-options.js";
import { type LogPlan, planLog, type Wanted } from "./log-plan.js";
import { binarySentence } from "./recognition.js";
import { type Lanes, RegularLane } from "./regular-lane.js";
import { RowSink } from "./row-sink.js";
import type { FileRows, SeriesSet } from "./series-set.js";
import { meet } from "./tally.js";
import { rowCells, type TextRow, tableCells, textRows } from "./text-rows.js";
import { TimeReader } from "./time-reader.js";

/** Bytes looked at before the log is planned. */
const HEAD_BYTES = 1 << 18;
/** The longest row, and the longest run of bytes without a line end, that counts as text. */
const LONGEST_ROW = 1 << 20;

const EMPTY = new Uint8Array(0);
const LINE_FEED = 10;
const RETURN = 13;

/** What a file reader needs to know besides the bytes. */
export interface FileReaderSettings {
  readonly wanted: Wanted;
  readonly options: LogOptions;
  /** Order tried first for dates that do not tell theirs; null takes the first that the head allows. */
  readonly dateOrder: DateOrder | null;
  /** Size of the file in bytes; null where it is not known. */
  readonly size: number | null;
  /** Origin of the ticks of an earlier file of the same recording. */
  readonly originS: number | null;
  /** What may read the rows besides the reader of text. */
  readonly lanes: Lanes;
}

/** Reads one text log, pushed in pieces of any size, into a set of series. */
export class LogFileReader {
  sink: RowSink | null = null;
  cutShortLine: number | null = null;
  encoding: EncodingFound | null = null;
  private lane: RegularLane | null = null;
  private newline = LINE_FEED;
  private held: Uint8Array = EMPTY;
  private line = 1;
  private transcode: ((chunk: Uint8Array, last: boolean) => Uint8Array) | null = null;
  private decoder = textDecoder("utf-8");
  private headRows: TextRow[] = [];

  constructor(
    private readonly set: SeriesSet,
    private readonly rows: FileRows,
    private readonly settings: FileReaderSettings,
  ) {}

  /** Takes the next bytes; they may be reused afterwards. @throws {InputError} where they cannot be read. */
  push(chunk: Uint8Array): void {
    if (this.lane !== null) this.scan(this.transcode === null ? chunk : this.transcode(chunk, false));
    else {
      const all = joined(this.held, chunk);
      this.held = all.subarray(0, HEAD_BYTES);
      if (all.length < HEAD_BYTES) return;
      // The same head whatever the size of the pieces; text of the rest is never needed.
      this.start(false);
      const rest = all.subarray(HEAD_BYTES);
      this.scan(this.transcode === null ? rest : this.transcode(rest, false));
    }
  }

  /** Whether a later row may still show that the file must be read anew. */
  get mayRestart(): boolean {
    return this.sink === null || this.sink.timeReader.watch.open;
  }

  /** Takes the end of the file. @throws {InputError} where what was given is no log. */
  end(): void {
    if (this.lane === null) this.start(true);
    if (this.transcode !== null) this.scan(this.transcode(EMPTY, true));
    this.lastRow();
  }

  /** Plans the log from the bytes held so far and reads them. */
  private start(whole: boolean): void {
    const raw = this.held;
    if (raw.length === 0) throw new InputError({ problem: "the file is empty", remedy: "give a log with readings" });
    const { options } = this.settings;
    this.encoding = findEncoding(raw, options.encoding);
    const { encoding, markLength } = this.encoding;
    if (encoding.startsWith("utf-16")) this.transcode = transcoder(encoding);
    else this.decoder = textDecoder(encoding);
    const bytes = this.transcode === null ? raw.slice(markLength) : this.transcode(raw.subarray(markLength), false);
    refuseBinary(bytes);
    const text = this.decoder.decode(bytes);
    if (!text.includes("\n") && text.includes("\r")) this.newline = RETURN;
    this.headRows = textRows(text, !whole);
    const plan = planLog(this.headRows, this.settings.wanted, options);
    this.open(plan);
    this.held = EMPTY;
    this.expectRows(bytes.length, plan);
    const skipped = this.skipAbove(bytes, plan.header.firstLine);
    this.scan(bytes.subarray(skipped));
  }

  /** Makes room for the rows that a file of that size should hold, and a few more. */
  private expectRows(headBytes: number, plan: LogPlan): void {
    const headRows = this.headRows.length - plan.header.firstLine + 1;
    const size = this.settings.size ?? headBytes;
    if (headRows > 0) this.set.expect(this.set.rowCount + (1.03 * size * headRows) / headBytes + 16);
  }

  private open(plan: LogPlan): void {
    const { options, dateOrder, originS, lanes } = this.settings;
    const orders =
      dateOrder === null ? plan.dateOrders : [dateOrder, ...plan.dateOrders.filter((order) => order !== dateOrder)];
    const reader = new TimeReader(plan.time, plan.dialect, orders, options);
    reader.originS = originS;
    this.sink = new RowSink(plan, reader, { set: this.set, rows: this.rows }, options);
    this.lane = new RegularLane(
      this.sink,
      this.newline,
      (bytes, start, end, line) => this.readText(bytes, start, end, line),
      lanes,
    );
  }

  /** Where line `firstLine` begins. */
  private skipAbove(bytes: Uint8Array, firstLine: number): number {
    let at = 0;
    while (this.line < firstLine && at < bytes.length) {
      const end = bytes.indexOf(this.newline, at);
      if (end < 0) return bytes.length;
      at = end + 1;
      this.line += 1;
    }
    return at;
  }

  /** Reads the whole rows in the bytes held and given, and holds on to the rest. */
  private scan(chunk: Uint8Array): void {
    let start = 0;
    if (this.held.length > 0) {
      const firstEnd = chunk.indexOf(this.newline);
      const rest = joined(this.held, chunk.subarray(0, firstEnd < 0 ? chunk.length : firstEnd + 1));
      if (firstEnd < 0) {
        this.hold(rest);
        return;
      }
      start = firstEnd + 1;
      const taken = this.lane!.scan(rest, 0, rest.length, this.line);
      this.line = this.lane!.nextLine;
      // A row with line ends in quotes goes on in this chunk.
      if (taken < rest.length) {
        this.held = rest;
        this.scan(chunk.subarray(start));
        return;
      }
      this.held = EMPTY;
    }
    const end = chunk.lastIndexOf(this.newline) + 1;
    if (end > start) {
      start = this.lane!.scan(chunk, start, end, this.line);
      this.line = this.lane!.nextLine;
    }
    this.hold(chunk.slice(start));
  }

  private hold(bytes: Uint8Array): void {
    if (bytes.length > LONGEST_ROW) {
      throw new InputError({
        line: this.line,
        problem: "this line is too long for a log",
        remedy: "give a text log with one reading per line",
      });
    }
    this.held = bytes;
  }

  private readText(bytes: Uint8Array, start: number, end: number, line: number): void {
    const rows = textRows(this.decoder.decode(bytes.subarray(start, end)), false).filter((row) =>
      this.isRow(row, line),
    );
    const { delimiter } = this.sink!.plan.dialect;
    const table =
      delimiter === "space" || rows.every((row) => !row.text.includes('"')) ? null : tableOf(rows, delimiter);
    rows.forEach((row, i) => {
      this.sink!.take(table?.[i] ?? rowCells(row.text, delimiter), line + row.line - 1);
    });
  }

  private isRow(row: TextRow, line: number): boolean {
    // A logger that loses power leaves zeros at the end of its file.
    if (row.text.replaceAll("\0", "").trim() === "") return false;
    if (!isComment(row.text)) return true;
    meet(this.sink!.skipped.comment, line + row.line - 1);
    return false;
  }

  /** A last line without a line end may be cut short: it is left out where it has fewer cells or decimals than all others. */
  private lastRow(): void {
    const bytes = this.held;
    if (bytes.length === 0) return;
    const text = this.decoder.decode(bytes).replaceAll("\0", "");
    if (text.trim() === "") return;
    if (!isComment(text) && this.isCutShort(text)) {
      this.cutShortLine = this.line;
      return;
    }
    this.readText(bytes, 0, bytes.length, this.line);
  }

  private isCutShort(text: string): boolean {
    const { dialect, header } = this.sink!.plan;
    const whole = this.headRows
      .filter((row) => row.line >= header.firstLine && row.line !== this.line && row.text.trim() !== "")
      .slice(-200);
    const tables = whole.map((row) => rowCells(row.text, dialect.delimiter));
    const cells = rowCells(text, dialect.delimiter);
    if (tables.length === 0) return false;
    if (tables.every((row) => row.length > cells.length)) return true;
    const decimals = (cell: string | undefined): number => /^[+-]?\d+[.,](\d+)$/.exec(cell ?? "")?.[1]?.length ?? 0;
    const usual = decimals(tables[0]!.at(-1));
    const steady = tables.length >= 20 && usual > 0 && tables.every((row) => decimals(row.at(-1)) === usual);
    return (
      steady &&
      cells.length === tables[0]!.length &&
      /^[+-]?\d*[.,]?\d*$/.test(cells.at(-1)!) &&
      decimals(cells.at(-1)) < usual
    );
  }
}

function tableOf(rows: readonly TextRow[], delimiter: Parameters<typeof tableCells>[1]): string[][] | null {
  const table = tableCells(rows.map((row) => row.text).join("\n"), delimiter);
  return table?.length === rows.length ? table : null;
}

function joined(first: Uint8Array, second: Uint8Array): Uint8Array {
  const both = new Uint8Array(first.length + second.length);
  both.set(first);
  both.set(second, first.length);
  return both;
}

/** From UTF-16 to UTF-8, so that one scanner serves all. */
function transcoder(encoding: EncodingFound["encoding"]): (chunk: Uint8Array, last: boolean) => Uint8Array {
  const decoder = textDecoder(encoding);
  const encoder = new TextEncoder();
  return (chunk, last) => encoder.encode(decoder.decode(chunk, { stream: !last }));
}

function refuseBinary(bytes: Uint8Array): void {
  const sentence = binarySentence(bytes);
  if (sentence !== null) {
    throw new InputError({ problem: sentence, remedy: "export the log as CSV or text and give that" });
  }
}
