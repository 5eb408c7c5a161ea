import { InputError } from "../input-error.js";
import { type DateOrder, DateOrderWatch, dayUnder } from "./date-order.js";
import type { Dialect } from "./dialect.js";
import type { LogOptions } from "./log-options.js";
import { readNumber, scaledNumber, type WrittenNumber } from "./number-cell.js";
import type { TimeSource } from "./time-choice.js";
import { readDigitTime, readStamp, type Stamp, type WrittenTime } from "./timestamp.js";
import type { WrittenDate } from "./written-date.js";
import { type Zone, zoneByName } from "./zone.js";

const DAY_S = 86_400;
const TICKS_PER_S = 1e9;

/**
 * Turns the time cells of rows into numbers.
 *
 * Elapsed times come out in seconds. All others come out in ticks of a nanosecond from `originS`, a whole second since
 * the epoch that the first stamp sets: whole ticks stay exact for 104 days, where epoch seconds would not.
 */
export class TimeReader {
  originS: number | null = null;
  /** Where stamps carry a zone, the first of them. */
  zoneSeenS: number | null = null;
  /** Most digits after the decimal sign of seconds, or of the number. */
  decimals = 0;
  /** What the stamps tell apart before any fraction of a second: a day, a minute or a second. */
  stampUnitS = DAY_S;
  /** Line of the first local time that occurs twice; null where there was none. */
  repeatedHourLine: number | null = null;
  readonly watch: DateOrderWatch;
  readonly dateOrder: DateOrder;
  /** Order of day and month once all dates were seen; null where no date left it open. */
  settledOrder: DateOrder | null = null;
  orderBecause: "only-valid" | "continuous" = "only-valid";
  /** The time of day read last, for the reader's shortcut. */
  lastTime: WrittenTime | null = null;
  /** The time read last. */
  previous = Number.NEGATIVE_INFINITY;
  private readonly zone: Zone | null;

  constructor(
    readonly source: TimeSource,
    private readonly dialect: Pick<Dialect, "decimal" | "grouped">,
    /** Orders that a date may be written in, the first of which is assumed until a date contradicts it. */
    orders: readonly DateOrder[],
    options: LogOptions,
  ) {
    this.dateOrder = orders[0] ?? "day-first";
    this.zone = options.zone === undefined ? null : zoneByName(options.zone);
    this.watch = new DateOrderWatch(orders);
  }

  /** Whether times count ticks from an origin rather than seconds from the log's own zero. */
  get inTicks(): boolean {
    return this.source.form !== "elapsed" && this.source.form !== "interval";
  }

  /** The time of a row; NaN where its cell is blank. @throws {InputError} where the cell is no time of the form. */
  read(cells: readonly string[], rowNumber: number, line: number): number {
    const source = this.source;
    if (source.form === "interval") return rowNumber * source.intervalS;
    const cell = (cells[source.column] ?? "").trim();
    const dateColumn = source.form === "stamp" ? source.dateColumn : null;
    return cell === ""
      ? Number.NaN
      : this.readCells(cell, dateColumn === null ? null : (cells[dateColumn] ?? ""), line);
  }

  /** The time that a filled cell tells, with the date cell where there is one. @throws {InputError} as `read` does. */
  readCells(cell: string, dateCell: string | null, line: number): number {
    const time = this.timeOf(cell, dateCell, line);
    if (!Number.isFinite(time) && this.source.form !== "interval") throw unreadable(cell, "time", line);
    this.previous = time;
    return time;
  }

  private timeOf(cell: string, dateCell: string | null, line: number): number {
    const source = this.source;
    switch (source.form) {
      case "elapsed": {
        const number = this.number(cell, line);
        return scaledNumber(number, source.unit.decimalShift) * source.unit.factor;
      }
      case "epoch":
        return this.epochTicks(this.number(cell, line), source.decimalShift);
      case "excel": {
        const number = this.number(cell, line);
        const [whole, fraction] = split(number, 0);
        return this.ticks((whole + source.baseDay) * DAY_S, Number(`0.${fraction}`) * DAY_S * TICKS_PER_S);
      }
      case "clock":
        return this.clockTicks(cell, line);
      case "stamp":
        return this.stampTicks(cell, dateCell, line);
      case "interval":
        return Number.NaN;
    }
  }

  /** Settles the order of day and month from all dates. @throws {InputError} where they leave it open. */
  settle(): void {
    if (!this.watch.seen) return;
    const settled = this.watch.settle();
    if (settled === null) {
      throw new InputError({
        problem: `the dates can be read ${this.watch.possible.join(" or ")}, and nothing in the file settles it`,
        remedy: `say which with --date-order`,
      });
    }
    if (settled.order !== this.dateOrder) throw new DateOrderFault(this.watch, this.dateOrder, 1, "", settled.order);
    this.settledOrder = settled.order;
    this.orderBecause = settled.because;
  }

  private number(cell: string, line: number): WrittenNumber {
    const number = readNumber(cell, this.dialect.decimal, this.dialect.grouped);
    if (number === null) throw unreadable(cell, "time", line);
    this.decimals = Math.max(this.decimals, number.decimals);
    return number;
  }

  private epochTicks(number: WrittenNumber, decimalShift: number): number {
    const [whole, fraction] = split(number, decimalShift);
    return this.ticks(whole, Number(fraction.padEnd(9, "0").slice(0, 9)));
  }

  private ticks(epochS: number, extraTicks: number): number {
    this.originS ??= epochS;
    return (epochS - this.originS) * TICKS_PER_S + extraTicks;
  }

  private clockTicks(cell: string, line: number): number {
    const time = readStamp(cell)?.time ?? readDigitTime(cell);
    if (time === null) throw unreadable(cell, "time of day", line);
    this.decimals = Math.max(this.decimals, time.fractionDigits);
    this.stampUnitS = Math.min(this.stampUnitS, time.unitS);
    this.originS ??= 0;
    this.lastTime = time;
    return time.second * TICKS_PER_S + time.nanosecond;
  }

  private stampTicks(cell: string, dateCell: string | null, line: number): number {
    const { date, time, zoneS, zoneLetters } = this.parts(cell, dateCell, line);
    this.lastTime = time;
    this.watch.see(date);
    const day = dayUnder(this.dateOrder, date);
    if (day === null || (!date.settled && !this.watch.possible.includes(this.dateOrder))) {
      throw new DateOrderFault(this.watch, this.dateOrder, line, dateCell ?? cell);
    }
    this.decimals = Math.max(this.decimals, time?.fractionDigits ?? 0);
    this.stampUnitS = Math.min(this.stampUnitS, time?.unitS ?? DAY_S);
    const localS = day * DAY_S + (time?.second ?? 0);
    const extra = time?.nanosecond ?? 0;
    if (zoneS !== null) {
      this.zoneSeenS ??= zoneS;
      return this.ticks(localS - zoneS, extra);
    }
    if (this.zone !== null) return this.zonedTicks(this.zone, localS, extra, line);
    if (zoneLetters !== null) throw unknownZone(zoneLetters, line);
    return this.ticks(localS, extra);
  }

  private parts(cell: string, dateCell: string | null, line: number): Stamp & { readonly date: WrittenDate } {
    const stamp = readStamp(cell);
    if (dateCell === null) {
      if (stamp?.date == null) throw unreadable(cell, "date and time", line);
      return { ...stamp, date: stamp.date };
    }
    const time = stamp?.time ?? readDigitTime(cell);
    const date = readStamp(dateCell)?.date ?? null;
    if (time === null) throw unreadable(cell, "time of day", line);
    if (date === null) throw unreadable(dateCell, "date", line);
    return { date, time, zoneS: stamp?.zoneS ?? null, zoneLetters: stamp?.zoneLetters ?? null };
  }

  private zonedTicks(zone: Zone, localS: number, extra: number, line: number): number {
    const moments = zone.moments(localS);
    if (moments.length === 0) {
      throw new InputError({
        line,
        problem: `this local time does not exist in the zone ${zone.name}: the clock skips it at the start of summer time`,
        remedy: "give the zone the logger's clock was in with --zone, e.g. UTC or a fixed offset such as +01:00",
      });
    }
    if (moments.length > 1) this.repeatedHourLine ??= line;
    const ticks = moments.map((moment) => this.ticks(moment, extra));
    return ticks.find((tick) => tick >= this.previous) ?? ticks[0]!;
  }
}

/** A date that the assumed order of day and month does not allow; the caller tries another order or refuses. */
export class DateOrderFault extends Error {
  constructor(
    readonly watch: DateOrderWatch,
    readonly assumed: DateOrder,
    readonly line: number,
    readonly cell: string,
    /** The order that fits instead; null where another must be tried. */
    readonly fitting: DateOrder | null = null,
  ) {
    super(`No such date: ${cell}`);
  }
}

function unknownZone(letters: string, line: number): InputError {
  return new InputError({
    line,
    problem: `the zone '${letters}' stands for different offsets in different places`,
    remedy: "say it with --zone, as an offset such as +01:00 or a name such as Europe/Paris",
  });
}

export function unreadable(cell: string, what: string, line: number): InputError {
  const shown = `${cell.slice(0, 40)}${cell.length > 40 ? "..." : ""}`.replace(/[^\p{L}\p{N}\p{P}\p{S} ]/gu, "?");
  return new InputError({
    line,
    problem: `the ${what} reads '${shown}', which is none`,
    remedy:
      what.startsWith("time") || what.startsWith("date")
        ? "mend or delete the line, or name the form with --time-format"
        : `mend the line, or say --missing '${shown}' to leave such cells out`,
  });
}

/** Whole part and further digits of a number moved right by `decimalShift` places. */
function split(number: WrittenNumber, decimalShift: number): readonly [number, string] {
  if (number.exponent !== 0) {
    const value = scaledNumber(number, decimalShift);
    const whole = Math.floor(value);
    return [whole, (value - whole).toFixed(9).slice(2)];
  }
  const [whole = "", fraction = ""] = number.mantissa.split(".");
  const digits = whole.padStart(decimalShift + 1, "0");
  const cut = digits.length - decimalShift;
  return [Number(digits.slice(0, cut)), digits.slice(cut) + fraction];
}
