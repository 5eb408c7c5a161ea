import { wasmProgram } from "../wasm-program.js";
import { PLAIN_ROWS_CODE } from "./plain-rows-code.js";

/** How rows of plain numbers are laid out. */
export interface PlainLayout {
  readonly delimiter: number;
  readonly decimal: number;
  readonly newline: number;
  /** For each column up to the last one wanted, 1 where it is wanted; the last is. */
  readonly wanted: Uint8Array;
  /** For each column the power of ten that divides its numbers besides their decimals, 0 to `LARGEST_SHIFT`. */
  readonly shifts: Int8Array;
  readonly timeColumn: number;
}

/** A cell of 15 decimals divided by that many powers of ten more is still exact. */
export const LARGEST_SHIFT = 7;
export const MOST_COLUMNS = 400;

/** Bytes of text, and numbers, that the memory of `plain-rows.wat` holds at a time. */
const TEXT_BYTES = 1 << 16;
const NUMBERS = 1 << 16;

const POWERS_OF_TEN = 23;
const ENTRIES = 256;
const ENTRY_BYTES = 80;
const TEXT = ENTRIES + ENTRY_BYTES * MOST_COLUMNS;
const COLUMNS = TEXT + TEXT_BYTES + 64;

/** What `plain-rows.wat` offers. */
interface PlainRowsModule {
  readonly memory: { readonly buffer: ArrayBuffer };
  readonly delimiter: { value: number };
  readonly decimal: { value: number };
  readonly newline: { value: number };
  readonly stopped: { readonly value: number };
  readonly timeDecimals: { value: number };
  read(start: number, end: number, entriesEnd: number, timeEntry: number, maxRows: number): number;
}

/**
 * Reads rows as long as every wanted cell is a plain decimal of up to 15 digits and 15 characters with its signs.
 *
 * The whole speed of reading a log stands in `plain-rows.wat`; here is its memory: text in, columns of numbers out.
 */
export class PlainRows {
  private readonly module = instance();
  private readonly text: Uint8Array;
  private readonly numbers: Float64Array;
  private readonly maxRows: number;
  private readonly entriesEnd: number;
  private readonly timeEntry: number;
  /** The bytes whose part from `windowStart` to `windowEnd` stands in the memory. */
  private source: Uint8Array | null = null;
  private windowStart = 0;
  private windowEnd = 0;
  /** Where the first row not read begins. */
  at = 0;

  constructor(private readonly layout: PlainLayout) {
    const { buffer } = this.module.memory;
    this.text = new Uint8Array(buffer, TEXT, TEXT_BYTES);
    this.numbers = new Float64Array(buffer);
    const columnCount = layout.wanted.length;
    this.maxRows = Math.floor(NUMBERS / columnCount);
    this.entriesEnd = ENTRIES + ENTRY_BYTES * columnCount;
    this.timeEntry = ENTRIES + ENTRY_BYTES * layout.timeColumn;
    for (let power = 0; power < POWERS_OF_TEN; power += 1) this.numbers[power] = Number(`1e${power}`);
    const entries = new Int32Array(buffer);
    for (let column = 0; column < columnCount; column += 1) {
      const entry = (ENTRIES + ENTRY_BYTES * column) / 4;
      entries[entry] = layout.wanted[column] === 0 ? 0 : this.columnAt(column);
      entries[entry + 1] = layout.shifts[column]!;
      // No cell fits this, so the first one is learned.
      entries[entry + 2] = -1;
    }
    this.module.delimiter.value = layout.delimiter;
    this.module.decimal.value = layout.decimal;
    this.module.newline.value = layout.newline;
  }

  private columnAt(column: number): number {
    return COLUMNS + 8 * column * this.maxRows;
  }

  get timeColumn(): number {
    return this.layout.timeColumn;
  }

  /** Most decimals met in the time column. */
  get timeDecimals(): number {
    return this.module.timeDecimals.value;
  }

  /** Forgets the bytes that it was given last, which may hold something else by now. */
  release(): void {
    this.source = null;
  }

  /**
   * Reads rows of `bytes` from `at` on, at most as many as its memory holds; returns how many.
   *
   * `bytes` must have a line end at `end - 1`, and must not change until `release`.
   */
  read(bytes: Uint8Array, at: number, end: number): number {
    this.at = at;
    if (this.source !== bytes || at < this.windowStart || at >= this.windowEnd) {
      const windowEnd = end - at <= TEXT_BYTES ? end : bytes.lastIndexOf(this.layout.newline, at + TEXT_BYTES - 1) + 1;
      // A row that does not fit is for the other readers.
      if (windowEnd <= at) return 0;
      this.text.set(bytes.subarray(at, windowEnd));
      this.source = bytes;
      this.windowStart = at;
      this.windowEnd = windowEnd;
    }
    const offset = TEXT - this.windowStart;
    const { entriesEnd, timeEntry, maxRows } = this;
    const rowCount = this.module.read(offset + at, offset + this.windowEnd, entriesEnd, timeEntry, maxRows);
    this.at = this.module.stopped.value - offset;
    return rowCount;
  }

  /** Copies that column of the rows read last to `into`, from place `from` on. */
  copy(column: number, rowCount: number, into: Float64Array, from: number): void {
    const start = this.columnAt(column) / 8;
    into.set(this.numbers.subarray(start, start + rowCount), from);
  }
}

const instance = wasmProgram<PlainRowsModule>(PLAIN_ROWS_CODE);
