import { IRREGULAR, MINUS, PLUS, POWERS_OF_TEN, QUOTE, SPACE, ZERO } from "./bytes.js";
import type { NumberBytes } from "./number-bytes.js";
import { StampShortcut } from "./stamp-shortcut.js";
import type { TimeReader } from "./time-reader.js";
import { readStamp } from "./timestamp.js";
import type { LogUnit } from "./unit.js";

const TICKS_PER_S = 1e9;
const DAY_S = 86_400;

/** Reads time cells from bytes into what the time reader makes of the same text; see there for the unit. */
export class TimeBytes {
  /** The time read last. */
  time = 0;
  readonly shortcut: StampShortcut;

  constructor(
    private readonly timeReader: TimeReader,
    private readonly numbers: NumberBytes,
  ) {
    const { source } = timeReader;
    this.shortcut = new StampShortcut(
      timeReader,
      source.form === "stamp" && source.dateColumn !== null,
      numbers.delimiter,
    );
  }

  /** Reads the time cell at `start`; returns where it ends, or `IRREGULAR`. */
  read(bytes: Uint8Array, start: number, line: number): number {
    const { source } = this.timeReader;
    switch (source.form) {
      case "elapsed":
        return this.elapsed(bytes, start, source.unit);
      case "epoch":
        return this.epoch(bytes, start, source.decimalShift);
      case "excel":
        return this.excel(bytes, start, source.baseDay);
      case "interval":
        return IRREGULAR;
      default:
        return this.stamp(bytes, start, line);
    }
  }

  /** Reads the date cell that goes with a time of day; only the known one is regular. */
  readDate(bytes: Uint8Array, start: number): number {
    return this.numbers.endOfCell(bytes, this.shortcut.matchDate(bytes, start));
  }

  private elapsed(bytes: Uint8Array, start: number, unit: LogUnit): number {
    const { numbers, timeReader } = this;
    const end = numbers.read(bytes, start, unit.decimalShift);
    if (end < 0 || Number.isNaN(numbers.value)) return IRREGULAR;
    if (numbers.decimals > timeReader.decimals) timeReader.decimals = numbers.decimals;
    this.time = numbers.value * unit.factor;
    return end;
  }

  /** An epoch time is ten digits of seconds and what follows, each read by itself to stay exact. */
  private epoch(bytes: Uint8Array, start: number, shift: number): number {
    const { numbers, timeReader } = this;
    const { originS } = timeReader;
    if (originS === null) return IRREGULAR;
    let seconds = 0;
    let p = start;
    for (; p < start + 10; p += 1) {
      const digit = bytes[p]! - ZERO;
      if (digit < 0 || digit > 9) return IRREGULAR;
      seconds = seconds * 10 + digit;
    }
    const first = bytes[p]!;
    const end = numbers.read(bytes, p, 0);
    if (end < 0 || first === SPACE || first === QUOTE || first === MINUS || first === PLUS) return IRREGULAR;
    // The further whole digits must be exactly those of the unit.
    const rest = p + shift;
    for (let i = p; i < rest; i += 1) if (!isDigit(bytes[i]!)) return IRREGULAR;
    const digitCount = shift + numbers.decimals;
    if (isDigit(bytes[rest]!) || digitCount > 9) return IRREGULAR;
    if (numbers.decimals > timeReader.decimals) timeReader.decimals = numbers.decimals;
    const fraction = digitCount === 0 ? 0 : numbers.digits * POWERS_OF_TEN[9 - digitCount]!;
    this.time = (seconds - originS) * TICKS_PER_S + fraction;
    return end;
  }

  private excel(bytes: Uint8Array, start: number, baseDay: number): number {
    const { numbers, timeReader } = this;
    const { originS } = timeReader;
    const end = numbers.read(bytes, start, 0);
    if (end < 0 || originS === null || !(numbers.digits >= 0) || !(numbers.value >= 0)) return IRREGULAR;
    if (numbers.decimals > timeReader.decimals) timeReader.decimals = numbers.decimals;
    const power = POWERS_OF_TEN[numbers.decimals]!;
    const fraction = (numbers.digits - numbers.whole * power) / power;
    const wholeS = (numbers.whole + baseDay) * DAY_S;
    this.time = (wholeS - originS) * TICKS_PER_S + fraction * DAY_S * TICKS_PER_S;
    return end;
  }

  private stamp(bytes: Uint8Array, start: number, line: number): number {
    let p = start;
    while (bytes[p] === SPACE) p += 1;
    const quoted = bytes[p] === QUOTE;
    if (quoted) p += 1;
    const end = this.shortcut.read(bytes, p);
    if (end < 0) return this.newMinute(bytes, p, quoted, line);
    if (quoted && bytes[end] !== QUOTE) return IRREGULAR;
    this.time = this.shortcut.ticks;
    return this.numbers.endOfCell(bytes, quoted ? end + 1 : end);
  }

  /** A stamp that differs in more than its seconds, by the text reader's way. */
  private newMinute(bytes: Uint8Array, start: number, quoted: boolean, line: number): number {
    let p = start;
    let text = "";
    while (quoted ? bytes[p] !== QUOTE : !this.numbers.endsCell(bytes[p]!)) {
      if (bytes[p] === QUOTE || bytes[p] === this.numbers.newline || bytes[p]! > 126) return IRREGULAR;
      text += String.fromCharCode(bytes[p]!);
      p += 1;
    }
    if (!this.shortcut.primed || readStamp(text)?.time == null) return IRREGULAR;
    const { dateCell } = this.shortcut;
    this.time = this.timeReader.readCells(text.trim(), dateCell, line);
    this.shortcut.learn(text.trim(), dateCell);
    return this.numbers.endOfCell(bytes, quoted ? p + 1 : p);
  }
}

function isDigit(byte: number): boolean {
  return byte >= ZERO && byte <= ZERO + 9;
}
