import { readDate, type WrittenDate } from "./written-date.js";

/** A time of day as written. */
export interface WrittenTime {
  /** Whole seconds since midnight; up to 86,400, and more for elapsed times above a day. */
  readonly second: number;
  readonly nanosecond: number;
  readonly fractionDigits: number;
  /** What the text tells apart before any fraction: a second, or a minute where it holds no seconds. */
  readonly unitS: 1 | 60;
  /** Where the seconds stand in the text, `[start, end)`, for the reader's shortcut; null where there are none. */
  readonly secondsAt: readonly [number, number] | null;
}

/** What one cell says about the moment of a reading. */
export interface Stamp {
  readonly date: WrittenDate | null;
  readonly time: WrittenTime | null;
  /** Seconds east of UTC; null where the stamp carries no zone. */
  readonly zoneS: number | null;
  /** A zone by letters other than UTC, which alone do not tell an offset; null where there are none. */
  readonly zoneLetters: string | null;
}

const TIME = /^(\d{1,4}):(\d{2})(?::(\d{2})(?:([.,:])(\d{1,12}))?|\.(\d{1,12}))?(?:\s*([ap])\.?m\.?)?$/di;
const DAYS_AND_TIME = /^(\d{1,5})(?:\s*(?:days?|d)?[\s,]+|\.)(?=\d{1,2}:\d{2})/i;
const COMPACT_TIME = /^(\d{2})(\d{2})(\d{2})?(?:[.,](\d{1,12}))?$/;
const ZONE = /\s*(Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?|(?:UTC|GMT)[+-]\d{1,2}(?::?\d{2})?)$/i;
const ZONE_LETTERS = /\s+([A-Z]{3,5})$/;
/** `Mar  2 10:00:00 2026`, as the C library writes it. */
const YEAR_LAST = /^(?:\p{L}{2,4},?\s+)?(\p{L}{3,9})\s+(\d{1,2})\s+(\d{1,2}:\S+)\s+(\d{4})$/u;

/**
 * Reads a date, a time of day, or both, in the forms of ISO 8601 (calendar, ordinal and week dates, basic and extended)
 * and the everyday ones; null where the text is none of them.
 */
export function readStamp(text: string): Stamp | null {
  const trimmed = text.trim();
  if (trimmed.length < 4 || trimmed.length > 48) return null;
  if (trimmed.startsWith("[") && trimmed.endsWith("]")) return unplaced(readStamp(trimmed.slice(1, -1)));
  const timeOnly = zoned(trimmed, false);
  if (timeOnly !== null) return { date: null, ...timeOnly };
  const days = readDaysAndTime(trimmed);
  if (days !== null) return { date: null, time: days, zoneS: null, zoneLetters: null };
  const last = YEAR_LAST.exec(trimmed);
  if (last !== null) return unplaced(readStamp(`${last[2]} ${last[1]} ${last[4]} ${last[3]}`));
  const date = readDate(trimmed);
  return date === null ? null : readTail(trimmed, date);
}

function readTail(text: string, { date, end, basic }: ReturnType<typeof readDate> & object): Stamp | null {
  const rest = text.slice(end);
  if (rest.trim() === "") return { date, time: null, zoneS: null, zoneLetters: null };
  const gap = /^(?:\s*T\s*|[\s_,]+|[-:](?=\d{2}:)|(?=\d{6}))/i.exec(rest)?.[0];
  if (gap === undefined) return null;
  const found = zoned(rest.slice(gap.length), basic || /^t/i.test(gap.trim()));
  if (found === null) return null;
  const at = found.time.secondsAt;
  const start = end + gap.length;
  const secondsAt = at === null ? null : ([at[0] + start, at[1] + start] as const);
  return { ...found, date, time: { ...found.time, secondsAt } };
}

/** A time with or without a zone behind it. */
function zoned(text: string, compactAllowed: boolean): (Omit<Stamp, "date" | "time"> & { time: WrittenTime }) | null {
  const read = (body: string): WrittenTime | null => readTime(body) ?? (compactAllowed ? readCompactTime(body) : null);
  const plain = read(text);
  if (plain !== null) return { time: plain, zoneS: null, zoneLetters: null };
  const zone = ZONE.exec(text);
  const zoneTime = zone === null ? null : read(text.slice(0, zone.index));
  if (zoneTime !== null) return { time: zoneTime, zoneS: zoneSeconds(zone![1]!), zoneLetters: null };
  const letters = ZONE_LETTERS.exec(text);
  const lettersTime = letters === null ? null : read(text.slice(0, letters.index));
  return lettersTime === null ? null : { time: lettersTime, zoneS: null, zoneLetters: letters![1]! };
}

/** The same stamp without the place of its seconds, where the text was rearranged. */
function unplaced(stamp: Stamp | null): Stamp | null {
  return stamp?.time == null ? stamp : { ...stamp, time: { ...stamp.time, secondsAt: null } };
}

function readDaysAndTime(text: string): WrittenTime | null {
  const days = DAYS_AND_TIME.exec(text);
  if (days === null) return null;
  const time = readTime(text.slice(days[0].length));
  if (time === null || time.second >= 86_400) return null;
  const at = time.secondsAt;
  const secondsAt = at === null ? null : ([at[0] + days[0].length, at[1] + days[0].length] as const);
  return { ...time, second: time.second + 86_400 * Number(days[1]), secondsAt };
}

/** Whether the text is a duration with days before its hours. */
export function hasDays(text: string): boolean {
  return DAYS_AND_TIME.test(text.trim());
}

function zoneSeconds(zone: string): number {
  const found = /([+-])(\d{1,2}):?(\d{2})?$/.exec(zone);
  if (found === null) return 0;
  const seconds = Number(found[2]) * 3600 + Number(found[3] ?? 0) * 60;
  return found[1] === "-" ? -seconds : seconds;
}

function readTime(text: string): WrittenTime | null {
  const found = TIME.exec(text);
  if (found === null) return null;
  const [, first, second, third, mark, fraction, shortFraction, half] = found;
  const places = found.indices!;
  // "mm:ss.f": with a fraction straight after the second number there are no hours.
  if (shortFraction !== undefined) {
    const minutes = Number(first);
    const secondsAt = [places[2]![0], places[6]![1]] as const;
    return timeOf([Math.floor(minutes / 60), minutes % 60, second], shortFraction, secondsAt);
  }
  const hour = half === undefined ? Number(first) : twelveHour(Number(first), half);
  if (hour === null) return null;
  const secondsAt =
    third === undefined || mark === ":" ? null : ([places[3]![0], (places[5] ?? places[3])![1]] as const);
  return timeOf([hour, Number(second), third], fraction ?? "", secondsAt);
}

function readCompactTime(text: string): WrittenTime | null {
  const found = COMPACT_TIME.exec(text);
  if (found === null || Number(found[1]) > 24) return null;
  const place = found[3] === undefined ? null : ([4, text.length] as const);
  return timeOf([Number(found[1]), Number(found[2]), found[3]], found[4] ?? "", place);
}

/** A time of day written as bare digits, `hhmmss` or `hmmss`, as a logger's number column holds it. */
export function readDigitTime(text: string): WrittenTime | null {
  const found = /^(\d{1,6})(?:[.,](\d{1,12}))?$/.exec(text.trim());
  if (found === null) return null;
  const digits = found[1]!.padStart(6, "0");
  if (Number(digits.slice(0, 2)) > 24) return null;
  return timeOf([Number(digits.slice(0, 2)), Number(digits.slice(2, 4)), digits.slice(4)], found[2] ?? "", null);
}

function twelveHour(hour: number, half: string): number | null {
  if (hour < 1 || hour > 12) return null;
  return (hour % 12) + (half.toLowerCase() === "p" ? 12 : 0);
}

function timeOf(
  [hour, minute, written]: readonly [number, number, string | undefined],
  fraction: string,
  secondsAt: WrittenTime["secondsAt"],
): WrittenTime | null {
  const second = Number(written ?? 0);
  // Second 60 is a leap second: POSIX counts it as the first of the next minute.
  if (minute > 59 || second > 60) return null;
  const nanosecond = fraction === "" ? 0 : Math.round(Number(`0.${fraction}`) * 1e9);
  return {
    second: hour * 3600 + minute * 60 + second,
    nanosecond,
    fractionDigits: fraction.length,
    unitS: written === undefined ? 60 : 1,
    secondsAt,
  };
}
