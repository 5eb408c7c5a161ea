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

/** A date at the start of a text. */
export interface DateFound {
  readonly date: WrittenDate;
  /** Where the date ends in the text. */
  readonly end: number;
  /** In the basic form of ISO 8601, which goes with a time without colons. */
  readonly basic: boolean;
}

const WEEKDAY = /^\p{L}{2,10}\.?,?\s+(?=\d|\p{L})/u;

/** Reads the date a text starts with, a weekday before it or not; null where there is none. */
export function readDate(text: string): DateFound | null {
  const found = readAnyDate(text);
  if (found !== null) return found;
  const rest = text.replace(WEEKDAY, "");
  const later = rest === text ? null : readAnyDate(rest);
  return later === null ? null : { ...later, end: later.end + text.length - rest.length };
}

function readAnyDate(text: string): DateFound | null {
  return readSettledDate(text) ?? readNamedDate(text) ?? readOpenDate(text);
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
