import { dayNumber } from "./calendar.js";
import type { LogOptions } from "./log-options.js";
import { fullYear, type WrittenDate } from "./written-date.js";

export type DateOrder = NonNullable<LogOptions["dateOrder"]>;

/** Years that a two-digit year may stand for before another order is preferred. */
const PLAUSIBLE_YEARS = [2010, 2049] as const;

/** Day number of an open date under that order; null where the calendar has no such day. */
export function dayUnder(order: DateOrder, date: WrittenDate): number | null {
  if (date.settled) return date.day;
  const [a, b, c] = date.numbers;
  if (order === "year-first") return date.yearDigits === 4 ? null : dayNumber(fullYear(a, 2), b, c);
  const year = fullYear(c, date.yearDigits);
  return order === "day-first" ? dayNumber(year, b, a) : dayNumber(year, a, b);
}

export const DATE_ORDERS: readonly DateOrder[] = ["day-first", "month-first", "year-first"];

interface Candidate {
  readonly order: DateOrder;
  lastDay: number | null;
  /** Every new date was the same day or the next. */
  continuous: boolean;
  dateCount: number;
}

/** Watches the dates of a log go by and rules out the orders that they contradict. */
export class DateOrderWatch {
  private candidates: Candidate[];

  /** Whether any date went by whose order is not told by its form. */
  seen = false;

  constructor(orders: readonly DateOrder[] = DATE_ORDERS) {
    this.candidates = orders.map((order) => ({ order, lastDay: null, continuous: true, dateCount: 0 }));
  }

  see(date: WrittenDate): void {
    if (date.settled) return;
    this.seen = true;
    const kept: Candidate[] = [];
    for (const candidate of this.candidates) {
      const day = dayUnder(candidate.order, date);
      if (day === null || !plausible(candidate.order, date)) continue;
      if (candidate.lastDay !== null && day !== candidate.lastDay && day !== candidate.lastDay + 1) {
        candidate.continuous = false;
      }
      if (day !== candidate.lastDay) candidate.dateCount += 1;
      candidate.lastDay = day;
      kept.push(candidate);
    }
    // A date that no order allows tells nothing of the order.
    if (kept.length > 0) this.candidates = kept;
  }

  /** Whether dates go by whose order is still open. */
  get open(): boolean {
    return this.seen && this.candidates.length > 1;
  }

  /** Orders that no date so far contradicts. */
  get possible(): readonly DateOrder[] {
    return this.candidates.map((candidate) => candidate.order);
  }

  /** The one order that fits, and why; null where the dates leave the choice open, or fit none. */
  settle(): { readonly order: DateOrder; readonly because: "only-valid" | "continuous" } | null {
    if (this.candidates.length === 1) return { order: this.candidates[0]!.order, because: "only-valid" };
    const continuous = this.candidates.filter((candidate) => candidate.continuous && candidate.dateCount > 1);
    return continuous.length === 1 ? { order: continuous[0]!.order, because: "continuous" } : null;
  }
}

const HINTS: readonly (readonly [DateOrder, RegExp])[] = [
  ["day-first", /\b[dtj]{1,2}[-/.]m{1,2}[-/.][yja]{2,4}\b/i],
  ["month-first", /\bm{1,2}[-/.][dtj]{1,2}[-/.][yja]{2,4}\b/i],
  ["year-first", /\b[yja]{2,4}[-/.]m{1,2}[-/.][dtj]{1,2}\b/i],
];

/** The order that a text such as `Date (DD/MM/YYYY)` spells out; null where it spells none. */
export function orderHint(text: string): DateOrder | null {
  return HINTS.find(([, pattern]) => pattern.test(text))?.[0] ?? null;
}

function plausible(order: DateOrder, date: WrittenDate): boolean {
  if (date.settled || date.yearDigits === 4) return true;
  const year = fullYear(order === "year-first" ? date.numbers[0] : date.numbers[2], 2);
  return year >= PLAUSIBLE_YEARS[0] && year <= PLAUSIBLE_YEARS[1];
}
