import { InputError } from "../input-error.js";
import { columnTold, listOf } from "./column-choice.js";
import { isAside, roleScore } from "./column-name.js";
import type { ColumnSurvey } from "./column-survey.js";
import { isDigitClock } from "./digit-clock.js";
import type { LogFinding, TimeReason } from "./log-notes.js";
import { LONGEST_INTERVAL_S, type LogOptions } from "./log-options.js";
import { hasDays } from "./timestamp.js";
import { type LogUnit, unitBySymbol } from "./unit.js";

/** Where the times of a log come from and how they are written. */
export type TimeSource =
  | { readonly form: "stamp"; readonly column: number; readonly dateColumn: number | null }
  | { readonly form: "clock"; readonly column: number; readonly durations: boolean }
  | { readonly form: "elapsed"; readonly column: number; readonly unit: LogUnit }
  | { readonly form: "epoch"; readonly column: number; readonly decimalShift: number }
  | { readonly form: "excel"; readonly column: number; readonly baseDay: number }
  | { readonly form: "interval"; readonly intervalS: number };

/** Seconds since the epoch of 2000-01-01 and 2100-01-01: numbers between them are taken for epoch times. */
const EPOCH_RANGE_S = [946_684_800, 4_102_444_800] as const;

/** Days from 1970-01-01 to day 0 of the two spreadsheet calendars. */
const EXCEL_BASE_DAY = -25_569;
const EXCEL_1904_BASE_DAY = -24_107;

/** Finds the time column or columns. @throws {InputError} where there is none or where two have equal claims. */
export function chooseTime(
  columns: readonly ColumnSurvey[],
  options: LogOptions,
  context: Readonly<Record<string, string>>,
  findings: LogFinding[],
): TimeSource {
  if (options.timeColumn === undefined && options.intervalS !== undefined) {
    findings.push({ code: "interval", intervalS: options.intervalS, because: "told" });
    return { form: "interval", intervalS: options.intervalS };
  }
  const [column, because] =
    options.timeColumn === undefined
      ? findTimeColumn(columns)
      : ([columnTold(columns, options.timeColumn, "--time-column"), "told"] as const);
  if (column === null) return withoutTimeColumn(columns, context, findings);
  const source = sourceOf(column, columns, options);
  const label =
    source.form === "stamp" && source.dateColumn !== null
      ? `${columns[source.dateColumn]!.label} and ${column.label}`
      : column.label;
  findings.push({ code: "time", column: label, form: formName(source), because });
  return source;
}

function withoutTimeColumn(
  columns: readonly ColumnSurvey[],
  context: Readonly<Record<string, string>>,
  findings: LogFinding[],
): TimeSource {
  const intervalS = intervalFromContext(context);
  if (intervalS === null) {
    const named = columns.find(
      (column) => /^(text|date)$/.test(column.kind) && roleScore(column.name.words, "time") >= 2,
    );
    if (named !== undefined) {
      throw new InputError({
        problem: `${named.label} holds '${named.cells[0]!.slice(0, 40)}', which cannot be read as a time`,
        remedy: "write times as hh:mm:ss, as ISO 8601 or in seconds, or name another --time-column",
      });
    }
    throw new InputError({
      problem: `no time column was found (${listOf(columns)})`,
      remedy: "name it with --time-column, or say how far apart the readings are with --interval SECONDS",
    });
  }
  findings.push({ code: "interval", intervalS, because: "preamble" });
  return { form: "interval", intervalS };
}

/** `Sample interval: 100 ms` or `Sampling rate: 10 Hz` above the readings, where it is an interval that a log can have. */
function intervalFromContext(context: Readonly<Record<string, string>>): number | null {
  const intervalS = statedIntervalS(context);
  return intervalS !== null && intervalS > 0 && intervalS <= LONGEST_INTERVAL_S ? intervalS : null;
}

function statedIntervalS(context: Readonly<Record<string, string>>): number | null {
  for (const [key, value] of Object.entries(context)) {
    const number = /^([\d.]+)\s*(\S*)/.exec(value);
    const bracket = /[([]\s*([^)\]]+)\s*[)\]]/.exec(key)?.[1];
    if (number === null || !(Number(number[1]) > 0)) continue;
    const unit = (number[2] || bracket || "").trim();
    if (/interval|period|sample time|sampling time|intervalle|intervall/i.test(key)) {
      const seconds = { s: 1, sec: 1, ms: 1e-3, us: 1e-6, min: 60, "": 1 }[unit.toLowerCase()];
      if (seconds !== undefined) return Number(number[1]) * seconds;
    }
    if (/rate|frequency|frequenz/i.test(key)) {
      const hertz = { hz: 1, khz: 1e3, "s/s": 1, sps: 1, "1/s": 1 }[unit.toLowerCase()];
      if (hertz !== undefined) return 1 / (Number(number[1]) * hertz);
    }
  }
  return null;
}

function findTimeColumn(columns: readonly ColumnSurvey[]): readonly [ColumnSurvey | null, TimeReason] {
  const full = columns.filter((column) => column.kind === "date-time");
  if (full.length > 0) return [oneOf(full, "date and time"), "form"];
  const clocks = columns.filter((column) => column.kind === "clock");
  if (clocks.length > 0) return [oneOf(clocks, "time of day"), "form"];
  const dates = columns.filter((column) => column.kind === "date");
  const numeric = columns.filter((column) => column.kind === "number");
  const named = numeric
    .map((column) => ({ column, score: timeClaim(column) }))
    .filter(({ score }) => score > 0)
    .sort((a, b) => b.score - a.score);
  if (named.length > 0) {
    return [
      oneOf(
        named.filter(({ score }) => score === named[0]!.score).map(({ column }) => column),
        "time",
      ),
      "name",
    ];
  }
  if (dates.length > 0 && numeric.length === 0) return [dates[0]!, "form"];
  const moments = numeric.filter((column) => column.unit === null && column.rising && epochFit(column) !== null);
  if (moments.length === 1) return [moments[0]!, "size"];
  const nameless = columns.every((column) => column.name.words.length === 0);
  if (nameless && columns.length > 1) {
    // A number for each row in front of the times counts nothing but rows.
    const others = numeric.filter((column) => column !== numeric[0] && onlyRises(column));
    if (numeric[0] !== undefined && countsRows(numeric[0]) && others.length === 1) return [others[0]!, "rising"];
    if (numeric[0]?.rising) return [numeric[0], "rising"];
  }
  return [null, "place"];
}

/** Fewer numbers than this may rise by chance. */
const FEWEST_RISING = 10;

function onlyRises({ numbers }: ColumnSurvey): boolean {
  return numbers.length >= FEWEST_RISING && numbers.every((n, i) => i === 0 || n > numbers[i - 1]!);
}

/** Whether the column numbers the rows, or counts whole seconds. */
export function countsRows({ numbers, decimals }: ColumnSurvey): boolean {
  return decimals === 0 && numbers.length > 2 && numbers.slice(1, 100).every((n, i) => n === numbers[i]! + 1);
}

function timeClaim(column: ColumnSurvey): number {
  const { words } = column.name;
  if (column.unit !== null && column.unit.dimension !== "time") return 0;
  const byName = roleScore(words, "time");
  const byUnit = column.unit?.dimension === "time" ? 2 : 0;
  if (byName === 0 && byUnit === 0) return /^(date|datum|fecha)$/.test(words.join("")) ? 1 : 0;
  return byName + byUnit - (isAside(words) || words.some((word) => /^(step|cycle|lap)/.test(word)) ? 1.5 : 0);
}

function oneOf(columns: readonly ColumnSurvey[], what: string): ColumnSurvey {
  if (columns.length === 1) return columns[0]!;
  const rest = columns.filter((column) => !isAside(column.name.words));
  const utc = columns.filter((column) => column.name.words.includes("utc"));
  if (utc.length === 1) return utc[0]!;
  const named = rest.filter((column) => roleScore(column.name.words, "time") === 3);
  if (named.length === 1) return named[0]!;
  const parts = columns.filter(({ name }) => name.words.some((word) => /^(hours?|minutes?|seconds?)$/.test(word)));
  if (parts.length > 1) {
    throw new InputError({
      problem: `the parts of the time stand in columns of their own: ${listOf(columns)}`,
      remedy: "write date and time into one column, or say how far apart the readings are with --interval SECONDS",
    });
  }
  throw new InputError({
    problem: `${columns.length} columns hold a ${what}: ${listOf(columns)}`,
    remedy: "say which with --time-column",
  });
}

function sourceOf(column: ColumnSurvey, columns: readonly ColumnSurvey[], options: LogOptions): TimeSource {
  const form = options.timeFormat;
  if (form === "epoch") return { form: "epoch", column: column.index, decimalShift: epochShift(column, options) ?? 0 };
  if (form === "excel" || form === "excel-1904") {
    return { form: "excel", column: column.index, baseDay: form === "excel" ? EXCEL_BASE_DAY : EXCEL_1904_BASE_DAY };
  }
  if (form === "elapsed" && column.kind === "number") return elapsed(column, options);
  if (column.kind === "date-time") return { form: "stamp", column: column.index, dateColumn: null };
  const date = dateBeside(column, columns, options);
  if (column.kind === "clock" || form === "clock") {
    if (date !== null && form !== "clock") return { form: "stamp", column: column.index, dateColumn: date.index };
    return { form: "clock", column: column.index, durations: form === "elapsed" || isDuration(column) };
  }
  if (column.kind === "date") return { form: "stamp", column: column.index, dateColumn: null };
  if (date !== null && column.numbers.every((n) => n >= 0 && n < 250_000)) {
    return { form: "stamp", column: column.index, dateColumn: date.index };
  }
  if (form === undefined && options.timeUnit === undefined && isDigitClock(column))
    return { form: "clock", column: column.index, durations: false };
  const shift = epochShift(column, options);
  if (shift !== null) return { form: "epoch", column: column.index, decimalShift: shift };
  if (isExcelSerial(column, options)) return { form: "excel", column: column.index, baseDay: EXCEL_BASE_DAY };
  return elapsed(column, options);
}

function isDuration(column: ColumnSurvey): boolean {
  if (column.cells.some(hasDays)) return true;
  return column.name.words.some((word) => /^(elapsed|duration|dauer|runtime|stopwatch)$/.test(word));
}

function dateBeside(column: ColumnSurvey, columns: readonly ColumnSurvey[], options: LogOptions): ColumnSurvey | null {
  if (options.dateColumn !== undefined) return columnTold(columns, options.dateColumn, "--date-column");
  const dates = columns.filter((other) => other !== column && isDateColumn(other));
  return dates.find((other) => Math.abs(other.index - column.index) === 1) ?? dates[0] ?? null;
}

function isDateColumn(column: ColumnSurvey): boolean {
  if (column.kind === "date") return true;
  const digits = column.cells.every((cell) => /^(19|20)\d{6}$/.test(cell)) && column.cells.length > 0;
  return digits && roleScore(column.name.words, "date") > 0;
}

/** Decimal places of the epoch unit (0 s, 3 ms, 6 us, 9 ns) that put the numbers into this century; null for none. */
function epochShift(column: ColumnSurvey, options: LogOptions): number | null {
  const fits = epochFit(column);
  const told = options.timeUnit === undefined ? column.unit : unitBySymbol(options.timeUnit);
  if (told === null || told.dimension !== "time") return fits;
  if (told.factor !== 1) return null;
  if (fits === null || fits === told.decimalShift) return fits;
  // A counter of microseconds passes through the epoch range too, so a unit in the header stands, except for seconds.
  if (told.decimalShift > fits || options.timeUnit !== undefined) return null;
  throw new InputError({
    problem: `${column.label} is named in ${told.symbol}, but its numbers look like epoch times in ${["s", "ms", "us", "ns"][fits / 3]}`,
    remedy: "say which with --time-unit",
  });
}

/** Decimal places of the unit in which the first number is a moment of this century; null for none. */
function epochFit({ numbers }: ColumnSurvey): number | null {
  const first = numbers[0] ?? 0;
  return (
    [0, 3, 6, 9].find((shift) => first / 10 ** shift >= EPOCH_RANGE_S[0] && first / 10 ** shift < EPOCH_RANGE_S[1]) ??
    null
  );
}

function isExcelSerial(column: ColumnSurvey, options: LogOptions): boolean {
  if (options.timeUnit !== undefined || column.unit !== null) return false;
  const { numbers } = column;
  const first = numbers[0] ?? 0;
  const last = numbers.at(-1) ?? 0;
  return first >= 30_000 && first < 73_415 && last - first < 2 && column.decimals >= 4 && column.rising;
}

/** Numbers that begin well above 0, end below 1 and step by less than a thousandth are parts of a day as well as seconds. */
function refusePartOfDay({ numbers, decimals, rising, label, unit }: ColumnSurvey, options: LogOptions): void {
  if (options.timeUnit !== undefined || options.timeFormat !== undefined || unit !== null) return;
  const first = numbers[0] ?? 0;
  const last = numbers.at(-1) ?? 0;
  if (!rising || decimals < 5 || first < 0.001 || last >= 1) return;
  const second = numbers.find((number) => number > first)!;
  if (second - first > 1e-3) return;
  throw new InputError({
    problem: `${label} counts from ${first} to ${last}, which may be parts of a day or seconds`,
    remedy: "say --time-unit d or --time-unit s",
  });
}

function elapsed(column: ColumnSurvey, options: LogOptions): TimeSource {
  refusePartOfDay(column, options);
  const unit =
    options.timeUnit !== undefined
      ? unitBySymbol(options.timeUnit)
      : column.unit?.dimension === "time"
        ? column.unit
        : unitBySymbol("s");
  return { form: "elapsed", column: column.index, unit };
}

function formName(source: TimeSource): string {
  switch (source.form) {
    case "stamp":
      return "date and time";
    case "clock":
      return source.durations ? "elapsed hours, minutes and seconds" : "time of day";
    case "elapsed":
      return `elapsed time in ${source.unit.symbol}`;
    case "epoch":
      return `epoch time in ${["s", "ms", "us", "ns"][source.decimalShift / 3]}`;
    case "excel":
      return "spreadsheet day numbers";
    case "interval":
      return "readings at equal distance";
  }
}
