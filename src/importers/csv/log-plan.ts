import { InputError } from "../input-error.js";
import { cellKind } from "./cell-kind.js";
import {
  asideColumn,
  chooseValueColumn,
  listOf,
  refuseUnfitUnit,
  uncertaintyColumn,
  type ValueColumn,
  withUnit,
} from "./column-choice.js";
import { roleScore } from "./column-name.js";
import { type ColumnSurvey, surveyColumns } from "./column-survey.js";
import { DATE_ORDERS, type DateOrder, DateOrderWatch, orderHint } from "./date-order.js";
import { type Dialect, findDialect } from "./dialect.js";
import { type Header, readHeader } from "./header.js";
import type { LogFinding } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { TextRow } from "./text-rows.js";
import { chooseTime, countsRows, type TimeSource } from "./time-choice.js";
import { readStamp } from "./timestamp.js";

/** Which series the log must hold. */
export type Wanted = "voltage" | "current";

/** Everything needed to read the rows of a log. */
export interface LogPlan {
  readonly dialect: Dialect;
  readonly header: Header;
  readonly columns: readonly ColumnSurvey[];
  readonly time: TimeSource;
  readonly voltage: ValueColumn | null;
  readonly current: ValueColumn | null;
  readonly temperature: ValueColumn | null;
  /** Standard uncertainty of each voltage reading. */
  readonly uncertainty: ValueColumn | null;
  /** What each voltage reading, a needle's, would change by if the needle lay aside. */
  readonly aside: ValueColumn | null;
  /** Orders in which dates may be written, the likeliest first; one where it is settled. */
  readonly dateOrders: readonly DateOrder[];
  readonly dateOrderBecause: "told" | "header" | "dots" | null;
  readonly findings: readonly LogFinding[];
}

/** Concludes from the first rows how the log is to be read. @throws {InputError} where the rows leave it open. */
export function planLog(rows: readonly TextRow[], wanted: Wanted, options: LogOptions): LogPlan {
  const findings: LogFinding[] = [];
  const dialect = findDialect(rows, options);
  findings.push({
    code: "dialect",
    delimiter: dialect.delimiter,
    decimal: dialect.decimal,
    told: options.delimiter !== undefined && options.decimal !== undefined,
  });
  const header = readHeader(rows, dialect, options);
  findings.push({ code: "header", line: header.line, firstLine: header.firstLine });
  const columns = surveyColumns(rows, dialect, header, options);
  const time = chooseTime(columns, options, header.context, findings);
  const readings = columns.filter((column) => !isTimeColumn(column, time));
  const uncertainties = uncertaintyColumn(readings, options);
  const uncertainty =
    uncertainties === null || options.uncertaintyColumn === 0
      ? null
      : withUnit(
          uncertainties,
          "uncertainty",
          options.uncertaintyColumn === undefined ? "name" : "told",
          columns,
          options,
          findings,
        );
  const asides = uncertainty === null ? null : asideColumn(readings);
  const aside = asides === null ? null : withUnit(asides, "aside", "name", columns, options, findings);
  const rest = readings.filter((column) => column !== uncertainties && column !== asides);
  const voltage = chooseValueColumn(rest, "voltage", options, findings);
  const current = chooseValueColumn(rest, "current", options, findings);
  if (!dialect.grouped) refuseDoubtfulThousands(columns, [voltage, current]);
  if (voltage !== null && options.voltageUnit === undefined && columns[voltage.index]!.unit === voltage.unit)
    refuseUnfitUnit(columns[voltage.index]!, voltage.unit);
  const temperature = chooseValueColumn(rest, "temperature", options, findings);
  const dates = planDateOrder(rows, columns, time, header, options);
  const plan = {
    dialect,
    header,
    columns,
    time,
    voltage,
    current,
    temperature,
    uncertainty,
    aside,
    ...dates,
    findings,
  };
  if (plan[wanted] !== null) return plan;
  return { ...plan, ...chooseByPlace(rest, wanted, plan, options, findings) };
}

/** `27,345` in a column of millivolts: 27 and some mV by the sign, 27 thousand by the size of any bus. */
function refuseDoubtfulThousands(columns: readonly ColumnSurvey[], chosen: readonly (ValueColumn | null)[]): void {
  for (const value of chosen) {
    if (value === null || value.unit.decimalShift <= 0) continue;
    const { cells, label } = columns[value.index]!;
    const marked = cells.filter((cell) => /[.,]/.test(cell));
    const grouped =
      marked.length > 0.9 * cells.length && marked.every((cell) => /^-?[1-9]\d{0,2}[.,]\d{3}$/.test(cell));
    if (!grouped) continue;
    const mark = marked[0]!.includes(",") ? "," : ".";
    throw new InputError({
      problem: `${label} holds numbers such as ${marked[0]} in ${value.unit.symbol}, where the '${mark}' may be a decimal sign or part the thousands`,
      remedy: `say --decimal ${mark} or --decimal ${mark === "," ? "." : ","}`,
    });
  }
}

/** What the person, the lines above the readings and the first dates say about the order of day and month. */
function planDateOrder(
  rows: readonly TextRow[],
  columns: readonly ColumnSurvey[],
  time: TimeSource,
  header: Header,
  options: LogOptions,
): Pick<LogPlan, "dateOrders" | "dateOrderBecause"> {
  if (options.dateOrder !== undefined) return { dateOrders: [options.dateOrder], dateOrderBecause: "told" };
  if (time.form !== "stamp") return { dateOrders: DATE_ORDERS, dateOrderBecause: null };
  const watch = new DateOrderWatch();
  let dotted = false;
  for (const cell of columns[time.dateColumn ?? time.column]!.cells) {
    const date = readStamp(cell)?.date;
    if (date == null || date.settled) continue;
    watch.see(date);
    dotted ||= date.mark === ".";
  }
  const above = rows.filter((row) => row.line < header.firstLine).map((row) => row.text);
  const hint = orderHint(above.join("\n"));
  if (hint !== null && watch.possible.includes(hint)) return { dateOrders: [hint], dateOrderBecause: "header" };
  if (dotted && watch.possible.includes("day-first")) return { dateOrders: ["day-first"], dateOrderBecause: "dots" };
  return { dateOrders: watch.possible, dateOrderBecause: null };
}

function isTimeColumn(column: ColumnSurvey, time: TimeSource): boolean {
  if (time.form === "interval") return false;
  return column.index === time.column || (time.form === "stamp" && column.index === time.dateColumn);
}

const PLAIN_NAME =
  /^(values?|readings?|ch|channel|data|signal|input|ai|messwert|wert|valeur|valor|valore|y|display|main|primary|measurements?|\d+)\d*$/;

/** A name that tells nothing of what the column holds. */
function isPlainName(words: readonly string[]): boolean {
  return words.every((word) => PLAIN_NAME.test(word));
}

/** Without telling names the only column of numbers, or the canonical order, decides. */
function chooseByPlace(
  columns: readonly ColumnSurvey[],
  wanted: Wanted,
  plan: Pick<LogPlan, "voltage" | "current" | "temperature" | "header">,
  options: LogOptions,
  findings: LogFinding[],
): Partial<Pick<LogPlan, Wanted>> {
  const taken = [plan.voltage, plan.current, plan.temperature].map((column) => column?.index);
  const plain = columns.filter(
    (column) =>
      column.kind === "number" &&
      !taken.includes(column.index) &&
      column.unit === null &&
      isPlainName(column.name.words),
  );
  const proper = plain.filter((column) => column.name.words.length > 0 || !countsRows(column));
  const free = proper.length > 0 ? proper : plain;
  if (free.length === 0) refuseNamedText(columns, wanted);
  if (free.length === 1) return { [wanted]: withUnit(free[0]!, wanted, "only-one", columns, options, findings) };
  throw new InputError({
    problem:
      free.length === 0
        ? `no ${wanted} column was found (${listOf(columns)})`
        : `nothing tells which of ${free.length} columns is the ${wanted}: ${listOf(free)}`,
    remedy:
      wanted === "voltage" && free.length === 0 && columns.some((column) => holdsCurrent(column))
        ? "name it with --voltage-column, or give a log of the voltage and this one with --current"
        : `name it with --${wanted}-column`,
  });
}

/** @throws {InputError} where a column is named as wanted, but holds something else than numbers. */
function refuseNamedText(columns: readonly ColumnSurvey[], wanted: Wanted): void {
  const named = columns.find(
    ({ kind, name, unit }) => kind === "text" && (unit?.dimension === wanted || roleScore(name.words, wanted) === 3),
  );
  if (named === undefined) return;
  const shown = named.cells.find((cell) => cellKind(cell, ".") === "text" || cellKind(cell, ",") === "text")!;
  const parted = /^[+-]?\d{1,3}([.,]\d{3})+$/.test(shown);
  throw new InputError({
    problem: `${named.label} is named as the ${wanted}, but holds cells such as '${shown.slice(0, 40)}'`,
    remedy: parted
      ? `say --decimal ${shown.includes(",") ? "." : ","} if its mark parts the thousands (a log with two decimal signs must be exported anew)`
      : `write them as numbers, name the sign of the decimals with --decimal, or another column with --${wanted}-column`,
  });
}

/** Whether the column's unit is one of a current, or its cells are amperes. */
function holdsCurrent({ unit, cellUnits }: ColumnSurvey): boolean {
  return unit?.dimension === "current" || cellUnits.some(({ dimension }) => dimension === "current");
}
