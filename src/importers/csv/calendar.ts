/**
 * Days from 1970-01-01 to that date of the Gregorian calendar; null where there is no such date.
 *
 * Source of the day count: POSIX.1-2017, 4.16 "Seconds Since the Epoch", in whole days.
 */
export function dayNumber(year: number, month: number, day: number): number | null {
  if (month < 1 || month > 12 || day < 1 || day > monthLength(year, month)) return null;
  // Years that start in March, so that the leap day comes last.
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const yearOfEra = y - era * 400;
  const dayOfYear = Math.floor((153 * (month + (month > 2 ? -3 : 9)) + 2) / 5) + day - 1;
  const dayOfEra = yearOfEra * 365 + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100) + dayOfYear;
  return era * 146097 + dayOfEra - 719468;
}

/** Day number of an ISO 8601 ordinal date such as 1985-102; null where there is none. */
export function ordinalDayNumber(year: number, dayOfYear: number): number | null {
  if (dayOfYear < 1 || dayOfYear > (isLeapYear(year) ? 366 : 365)) return null;
  return dayNumber(year, 1, 1)! + dayOfYear - 1;
}

/** Day number of an ISO 8601 week date such as 1985-W15-5 (Monday is day 1); null where there is none. */
export function weekDayNumber(year: number, week: number, weekday: number): number | null {
  if (week < 1 || week > 53 || weekday < 1 || weekday > 7) return null;
  const fourth = dayNumber(year, 1, 4)!;
  const firstMonday = fourth - ((((fourth + 3) % 7) + 7) % 7);
  const day = firstMonday + (week - 1) * 7 + weekday - 1;
  const nextFourth = dayNumber(year + 1, 1, 4)!;
  const nextMonday = nextFourth - ((((nextFourth + 3) % 7) + 7) % 7);
  return week === 53 && firstMonday + 52 * 7 >= nextMonday ? null : day;
}

function monthLength(year: number, month: number): number {
  if (month === 2) return isLeapYear(year) ? 29 : 28;
  return month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
}

function isLeapYear(year: number): boolean {
  return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
}

/** `YYYY-MM-DD` of a day number. */
export function isoDate(day: number): string {
  return new Date(day * 86_400_000).toISOString().slice(0, 10);
}
