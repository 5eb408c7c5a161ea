import { COMMA, DOT, ZERO } from "./bytes.js";
import type { TimeReader } from "./time-reader.js";

const LONGEST = 64;
const SECOND_TICKS = 1e9;
const FRACTION_TICKS = Float64Array.from({ length: 10 }, (_, digits) => 10 ** (9 - digits));

/**
 * Reads stamps that differ from the last one in their seconds only.
 *
 * Everything up to the minute, and whatever stands behind the seconds, is compared byte by byte with the stamp that the
 * time reader read last; so any form of stamp can take the shortcut, and none is read in two ways.
 */
export class StampShortcut {
  private readonly prefix = new Uint8Array(LONGEST);
  private readonly suffix = new Uint8Array(LONGEST);
  private readonly date = new Uint8Array(LONGEST);
  private prefixLength = -1;
  private suffixLength = 0;
  private dateLength = -1;
  private minuteTicks = 0;
  /** Whether a stamp is known to compare with. */
  primed = false;
  /** The date cell that goes with the known stamp; null where stamps hold their own date. */
  dateCell: string | null = null;
  /** The time read last. */
  ticks = 0;

  constructor(
    private readonly reader: TimeReader,
    private readonly dated: boolean,
    /** A comma that parts the columns is no decimal sign. */
    private readonly delimiter: number,
  ) {}

  /** Remembers a stamp that the time reader has just read. */
  learn(cell: string, dateCell: string | null): void {
    const time = this.reader.lastTime;
    this.prefixLength = -1;
    this.primed = time !== null && (!this.dated || this.dateLength >= 0);
    if (this.dated && dateCell !== this.dateCell) {
      this.dateCell = dateCell;
      this.dateLength = writeAscii(dateCell ?? "", this.date);
      this.primed = this.dateLength >= 0;
    }
    if (!this.primed || time?.secondsAt == null || cell.length >= LONGEST) return;
    const [start, end] = time.secondsAt;
    // Second 60 belongs to the next minute.
    if (cell.startsWith("60", start)) return;
    this.prefixLength = writeAscii(cell.slice(0, start), this.prefix);
    this.suffixLength = writeAscii(cell.slice(end), this.suffix);
    if (this.suffixLength < 0) this.prefixLength = -1;
    this.minuteTicks = this.reader.previous - (time.second % 60) * SECOND_TICKS - time.nanosecond;
  }

  /** Whether the date cell at `at` is the known one; returns where it ends, or -1. */
  matchDate(bytes: Uint8Array, at: number): number {
    const length = this.dateLength;
    if (length < 0) return -1;
    for (let i = 0; i < length; i += 1) if (bytes[at + i] !== this.date[i]) return -1;
    return at + length;
  }

  /** Reads the stamp at `at` into `ticks`; returns where it ends, or -1 where it differs in more than the seconds. */
  read(bytes: Uint8Array, at: number): number {
    const length = this.prefixLength;
    if (length < 0) return -1;
    for (let i = 0; i < length; i += 1) if (bytes[at + i] !== this.prefix[i]) return -1;
    let p = at + length;
    const tens = bytes[p]! - ZERO;
    const ones = bytes[p + 1]! - ZERO;
    if (tens < 0 || tens > 5 || ones < 0 || ones > 9) return -1;
    p += 2;
    let ticks = this.minuteTicks + (tens * 10 + ones) * SECOND_TICKS;
    if (bytes[p] === DOT || (bytes[p] === COMMA && this.delimiter !== COMMA)) {
      const start = p + 1;
      p = start;
      let fraction = 0;
      for (let digit = bytes[p]! - ZERO; digit >= 0 && digit <= 9; digit = bytes[p]! - ZERO) {
        fraction = fraction * 10 + digit;
        p += 1;
      }
      const digits = p - start;
      if (digits === 0 || digits > 9) return -1;
      ticks += fraction * FRACTION_TICKS[digits]!;
      if (digits > this.reader.decimals) this.reader.decimals = digits;
    }
    for (let i = 0; i < this.suffixLength; i += 1) if (bytes[p + i] !== this.suffix[i]) return -1;
    this.ticks = ticks;
    return p + this.suffixLength;
  }
}

/** Writes the text as bytes; -1 where it is too long or not plain ASCII. */
function writeAscii(text: string, into: Uint8Array): number {
  if (text.length >= LONGEST) return -1;
  for (let i = 0; i < text.length; i += 1) {
    const code = text.charCodeAt(i);
    if (code > 126 || code < 32) return -1;
    into[i] = code;
  }
  return text.length;
}
