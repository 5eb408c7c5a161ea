import { dayNumber, ordinalDayNumber, weekDayNumber } from "./calendar.js";

/** A date as written: settled, or three numbers whose order is not told by their form. */
export type WrittenDate =
  | { readonly settled: true; readonly day: number }
  | {
      readonly settled: false;
      readonly numbers: readonly [number, number, number];
      readonly yearDigits: 2 | 4;
      readonly mark: string;
    };

/** A time of day as written. */
export interface WrittenTime {
  /** Whole seconds since midnight; up to 86,400, and more for elapsed times above a day. */
  readonly second: number;
  readonly nanosecond: number;
  readonly fractionDigits: number;
  /** Where the seconds stand in the text, `[start, end)`, for the reader's shortcut; null where there are none. */
  readonly secondsAt: readonly [number, number] | null;
}

/** What one cell says about the moment of a reading. */
export interface Stamp {
  readonly date: WrittenDate | null;
  readonly time: WrittenTime | null;
  /** Seconds east of UTC; null where the stamp carries no zone. */
  readonly zoneS: number | null;
}

const MONTHS: readonly (readonly string[])[] = [
  ["jan", "ene", "gen"],
  ["feb", "fev", "fév"],
  ["mar", "mär", "mrz", "maa"],
  ["apr", "avr", "abr"],
  ["may", "mai", "mag", "mei"],
  ["jun", "juin", "giu"],
  ["jul", "juil", "lug"],
  ["aug", "aou", "aoû", "ago"],
  ["sep", "set"],
  ["oct", "okt", "ott", "out"],
  ["nov"],
  ["dec", "dez", "déc", "dic"],
];

const WEEKDAY = /^\p{L}{2,10}\.?,?\s+(?=\d|\p{L})/u;
const TIME = /^(\d{1,4}):(\d{2})(?::(\d{2})(?:([.,:])(\d{1,12}))?|\.(\d{1,12}))?(?:\s*([ap])\.?m\.?)?$/di;
const COMPACT_TIME = /^(\d{2})(\d{2})(\d{2})?(?:[.,](\d{1,12}))?$/;
const ZONE = /\s*(Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?|(?:UTC|GMT)[+-]\d{1,2}(?::?\d{2})?)$/i;

/**
 * Reads a date, a time of day, or both, in the forms of ISO 8601 (calendar, ordinal and week dates, basic and extended)
 * and the everyday ones; null where the text is none of them.
 */
export function readStamp(text: string): Stamp | null {
  const trimmed = text.trim();
  if (trimmed.length < 4 || trimmed.length > 48) return null;
  const timeOnly = readTime(trimmed);
  if (timeOnly !== null) return { date: null, time: timeOnly, zoneS: null };
  const date =
    readDate(trimmed) ?? readDate(trimmed.replace(WEEKDAY, ""), trimmed.length - trimmed.replace(WEEKDAY, "").length);
  if (date === null) return readZonedTime(trimmed);
  const rest = trimmed.slice(date.end);
  if (rest.trim() === "") return { date: date.date, time: null, zoneS: null };
  const gap = /^(?:\s*T\s*|[\s_,]+|[-:](?=\d{2}:)|(?=\d{6}))/i.exec(rest);
  if (gap === null) return null;
  const tail = rest.slice(gap[0].length);
  return withTime(
    date.date,
    tail,
    text.indexOf(trimmed) + date.end + gap[0].length,
    /^t/i.test(gap[0].trim()) || date.basic,
  );
}

function withTime(date: WrittenDate, tail: string, startAt: number, compactAllowed: boolean): Stamp | null {
  const zone = ZONE.exec(tail);
  for (const cut of zone === null ? [tail.length] : [zone.index, tail.length]) {
    const body = tail.slice(0, cut);
    const time = readTime(body) ?? (compactAllowed ? readCompactTime(body) : null);
    if (time === null) continue;
    const at = time.secondsAt;
    const placed = { ...time, secondsAt: at === null ? null : ([at[0] + startAt, at[1] + startAt] as const) };
    return { date, time: placed, zoneS: cut === tail.length ? null : zoneSeconds(zone![1]!) };
  }
  return null;
}

function readZonedTime(text: string): Stamp | null {
  const zone = ZONE.exec(text);
  if (zone === null) return null;
  const time = readTime(text.slice(0, zone.index));
  return time === null ? null : { date: null, time, zoneS: zoneSeconds(zone[1]!) };
}

function zoneSeconds(zone: string): number {
  const found = /([+-])(\d{1,2}):?(\d{2})?$/.exec(zone);
  if (found === null) return 0;
  const seconds = Number(found[2]) * 3600 + Number(found[3] ?? 0) * 60;
  return found[1] === "-" ? -seconds : seconds;
}

interface DateFound {
  readonly date: WrittenDate;
  readonly end: number;
  readonly basic: boolean;
}

function readDate(text: string, shift = 0): DateFound | null {
  const found = readSettledDate(text) ?? readNamedDate(text) ?? readOpenDate(text);
  return found === null ? null : { ...found, end: found.end + shift };
}

function settled(day: number | null, end: number, basic = false): DateFound | null {
  return day === null ? null : { date: { settled: true, day }, end, basic };
}

function readSettledDate(text: string): DateFound | null {
  const calendar = /^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)/.exec(text);
  if (calendar !== null) {
    return settled(dayNumber(Number(calendar[1]), Number(calendar[3]), Number(calendar[4])), calendar[0].length);
  }
  const week = /^(\d{4})-?W(\d{2})-?(\d)(?!\d)/.exec(text);
  if (week !== null)
    return settled(weekDayNumber(Number(week[1]), Number(week[2]), Number(week[3])), week[0].length, true);
  const ordinal = /^(\d{4})(?:-(?=\d{3}(?!\d))|(?=\d{3}T))(\d{3})/.exec(text);
  if (ordinal !== null)
    return settled(ordinalDayNumber(Number(ordinal[1]), Number(ordinal[2])), ordinal[0].length, true);
  const basic = /^((?:19|20)\d{2})(\d{2})(\d{2})(?=$|[T\s_-])/i.exec(text);
  if (basic !== null)
    return settled(dayNumber(Number(basic[1]), Number(basic[2]), Number(basic[3])), basic[0].length, true);
  // Fourteen digits in a row: date and time without any separator.
  const run = /^((?:19|20)\d{2})(\d{2})(\d{2})(?=\d{6}(?:$|[.,Z+-]))/.exec(text);
  return run === null ? null : settled(dayNumber(Number(run[1]), Number(run[2]), Number(run[3])), run[0].length, true);
}

function readNamedDate(text: string): DateFound | null {
  const dayFirst = /^(\d{1,2})(?:st|nd|rd|th|\.)?[\s/-]*(\p{L}{3,12})\.?[\s,/-]*(\d{4}|\d{2})(?!\d)/u.exec(text);
  if (dayFirst !== null) return named(dayFirst[3]!, dayFirst[2]!, dayFirst[1]!, dayFirst[0].length);
  const monthFirst = /^(\p{L}{3,12})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})(?!\d)/u.exec(text);
  if (monthFirst !== null) return named(monthFirst[3]!, monthFirst[1]!, monthFirst[2]!, monthFirst[0].length);
  const yearFirst = /^(\d{4})[\s/-](\p{L}{3,12})\.?[\s/-](\d{1,2})(?!\d)/u.exec(text);
  return yearFirst === null ? null : named(yearFirst[1]!, yearFirst[2]!, yearFirst[3]!, yearFirst[0].length);
}

function named(year: string, monthName: string, day: string, end: number): DateFound | null {
  const lower = monthName.toLowerCase();
  const month = MONTHS.findIndex((starts) => starts.some((start) => lower.startsWith(start))) + 1;
  return month === 0 ? null : settled(dayNumber(fullYear(Number(year), year.length), month, Number(day)), end);
}

function readOpenDate(text: string): DateFound | null {
  const open = /^(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})(?!\d)/.exec(text);
  if (open === null) return null;
  const yearDigits = open[4]!.length === 4 ? 4 : 2;
  const numbers = [Number(open[1]), Number(open[3]), Number(open[4])] as const;
  return { date: { settled: false, numbers, yearDigits, mark: open[2]! }, end: open[0].length, basic: false };
}

/** Two-digit years stand for 1970 to 2069. Source: POSIX.1-2017, strptime `%y`, with its pivot at 69. */
export function fullYear(year: number, digits: number): number {
  if (digits === 4) return year;
  return year >= 69 ? 1900 + year : 2000 + year;
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
    return timeOf(Math.floor(minutes / 60), minutes % 60, Number(second), shortFraction, secondsAt);
  }
  const hour = half === undefined ? Number(first) : twelveHour(Number(first), half);
  if (hour === null) return null;
  const secondsAt =
    third === undefined || mark === ":" ? null : ([places[3]![0], (places[5] ?? places[3])![1]] as const);
  return timeOf(hour, Number(second), Number(third ?? 0), fraction ?? "", secondsAt);
}

function readCompactTime(text: string): WrittenTime | null {
  const found = COMPACT_TIME.exec(text);
  if (found === null || Number(found[1]) > 24) return null;
  const place = found[3] === undefined ? null : ([4, text.length] as const);
  return timeOf(Number(found[1]), Number(found[2]), Number(found[3] ?? 0), found[4] ?? "", place);
}

/** A time of day written as bare digits, `hhmmss` or `hmmss`, as a logger's number column holds it. */
export function readDigitTime(text: string): WrittenTime | null {
  const found = /^(\d{1,6})(?:[.,](\d{1,12}))?$/.exec(text.trim());
  if (found === null) return null;
  const digits = found[1]!.padStart(6, "0");
  if (Number(digits.slice(0, 2)) > 24) return null;
  return timeOf(Number(digits.slice(0, 2)), Number(digits.slice(2, 4)), Number(digits.slice(4)), found[2] ?? "", null);
}

function twelveHour(hour: number, half: string): number | null {
  if (hour < 1 || hour > 12) return null;
  return (hour % 12) + (half.toLowerCase() === "p" ? 12 : 0);
}

function timeOf(
  hour: number,
  minute: number,
  second: number,
  fraction: string,
  secondsAt: WrittenTime["secondsAt"],
): WrittenTime | null {
  // Second 60 is a leap second: POSIX counts it as the first of the next minute.
  if (minute > 59 || second > 60) return null;
  const nanosecond = fraction === "" ? 0 : Math.round(Number(`0.${fraction}`) * 1e9);
  return { second: hour * 3600 + minute * 60 + second, nanosecond, fractionDigits: fraction.length, secondsAt };
}
