import type { ColumnSurvey } from "./column-survey.js";
import type { DateOrder } from "./date-order.js";
import type { Encoding } from "./encoding.js";
import type { LogOptions } from "./log-options.js";
import type { LogPlan } from "./log-plan.js";

/** The choices that a log was read by, as options that bring about the same reading again. */
export function describePlan(
  plan: LogPlan,
  encoding: Encoding,
  dateOrder: DateOrder | null,
  options: LogOptions,
): LogOptions {
  const { time, dialect } = plan;
  const column = (index: number): string | number => columnOption(plan.columns, index);
  return {
    encoding,
    delimiter: dialect.delimiter,
    decimal: dialect.decimal,
    ...(time.form === "interval"
      ? { intervalS: time.intervalS }
      : { timeColumn: column(time.column), timeFormat: formatOption(plan) }),
    ...(time.form === "elapsed" ? { timeUnit: time.unit.symbol as NonNullable<LogOptions["timeUnit"]> } : {}),
    ...(time.form === "epoch" ? { timeUnit: (["s", "ms", "us", "ns"] as const)[time.decimalShift / 3]! } : {}),
    ...(time.form === "stamp" && time.dateColumn !== null ? { dateColumn: column(time.dateColumn) } : {}),
    ...(dateOrder === null ? {} : { dateOrder }),
    ...valueOptions(plan, column),
    ...told(options),
  };
}

function valueOptions(plan: LogPlan, column: (index: number) => string | number): LogOptions {
  const { voltage, current, temperature, uncertainty } = plan;
  return {
    ...(voltage === null
      ? {}
      : {
          voltageColumn: column(voltage.index),
          voltageUnit: voltage.unit.symbol as NonNullable<LogOptions["voltageUnit"]>,
        }),
    ...(current === null
      ? {}
      : {
          currentColumn: column(current.index),
          currentUnit: current.unit.symbol as NonNullable<LogOptions["currentUnit"]>,
        }),
    ...(temperature === null
      ? {}
      : {
          temperatureColumn: column(temperature.index),
          temperatureUnit: temperature.unit.symbol as NonNullable<LogOptions["temperatureUnit"]>,
        }),
    ...(uncertainty === null ? {} : { uncertaintyColumn: column(uncertainty.index) }),
  };
}

/** What the file cannot tell stays as the person said it. */
function told(options: LogOptions): LogOptions {
  const { zone, fileGapS, missing, currentSign, currentZeroA, headerLine, uncertaintyColumn } = options;
  const none = uncertaintyColumn === 0 ? { uncertaintyColumn } : {};
  return Object.fromEntries(
    Object.entries({ zone, fileGapS, missing, currentSign, currentZeroA, headerLine, ...none }).filter(
      ([, value]) => value !== undefined,
    ),
  );
}

function formatOption(plan: LogPlan): NonNullable<LogOptions["timeFormat"]> {
  const { time } = plan;
  if (time.form === "clock") return time.durations ? "elapsed" : "clock";
  if (time.form === "excel") return time.baseDay === -25_569 ? "excel" : "excel-1904";
  return time.form === "interval" ? "elapsed" : time.form;
}

/** By its name where only one column bears it, otherwise by its number from 1. */
function columnOption(columns: readonly ColumnSurvey[], index: number): string | number {
  const { title } = columns[index]!;
  const bearers = columns.filter((column) => column.title.toLowerCase() === title.toLowerCase());
  return title === "" || bearers.length > 1 || /^\d+$/.test(title) ? index + 1 : title;
}
