import type { CurrentSeries, Recording } from "../../core/index.js";
import { InputError } from "../input-error.js";
import { unwrapClock, unwrapSummerTime } from "./clock-unwrap.js";
import { spreadCoarseStamps } from "./coarse-stamps.js";
import type { DateOrder } from "./date-order.js";
import { findEncoding, textDecoder } from "./encoding.js";
import { isComment } from "./header.js";
import { note } from "./log-messages.js";
import type { LogFinding, UnderstoodNote } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import { type LogPlan, planLog, type Wanted } from "./log-plan.js";
import { meet, RowSink } from "./row-sink.js";
import { rowCells, textRows } from "./text-rows.js";
import { putInOrder } from "./time-order.js";
import { DateOrderFault, TimeReader } from "./time-reader.js";

/** Readings of a temperature in degrees Celsius on their own time axis in seconds. */
export interface TemperatureSeries {
  readonly timesS: Float64Array;
  readonly temperaturesC: Float64Array;
}

/** What one or several text logs hold, on one time axis. */
export interface LogSeries {
  readonly recording: Recording | null;
  readonly current: CurrentSeries | null;
  readonly temperature: TemperatureSeries | null;
  /** Moment of time zero in seconds since the epoch; null where the log does not tell. */
  readonly startEpochS: number | null;
  /** What the stamps can tell apart, s; null where times were made up from an interval. */
  readonly clockResolutionS: number | null;
  readonly context: Readonly<Record<string, string>>;
  readonly understood: readonly UnderstoodNote[];
  readonly warnings: readonly UnderstoodNote[];
}

const WARNINGS: ReadonlySet<string> = new Set([
  "not-a-number",
  "rows-without-time",
  "cut-short",
  "sorted",
  "same-times",
  "clock-set-back",
  "clock-set-forward",
  "repeated-hour",
  "mixed-coupling",
  "time-scale-doubt",
]);

/** Reads a whole log from its bytes. @throws {InputError} where it cannot be read, or can be read in two ways. */
export function importLog(bytes: Uint8Array, wanted: Wanted, options: LogOptions): LogSeries {
  if (bytes.length === 0) throw new InputError({ problem: "the file is empty", remedy: "give a log with readings" });
  const found = findEncoding(bytes, options.encoding);
  const text = textDecoder(found.encoding).decode(bytes.subarray(found.markLength));
  if (text.includes("\0")) {
    throw new InputError({ problem: "this is not a text file", remedy: "export the log as CSV or text and give that" });
  }
  const rows = textRows(text, false);
  const plan = planLog(rows, wanted, options);
  for (const order of [options.dateOrder ?? "day-first", "month-first", "year-first"] as const) {
    try {
      return finish(readRows(plan, order, options, rows), plan, options);
    } catch (fault) {
      if (!(fault instanceof DateOrderFault)) throw fault;
      if (options.dateOrder !== undefined || fault.watch.possible.length === 0) {
        throw new InputError({
          line: fault.line,
          problem: `there is no such date: '${fault.cell}'`,
          remedy: "mend the line, or name the order with --date-order",
        });
      }
    }
  }
  throw new InputError({
    problem: "no order of day, month and year fits the dates",
    remedy: "name it with --date-order",
  });
}

function readRows(plan: LogPlan, order: DateOrder, options: LogOptions, rows: ReturnType<typeof textRows>): RowSink {
  const sink = new RowSink(plan, new TimeReader(plan.time, plan.dialect.decimal, order, options), options, rows.length);
  for (const row of rows) {
    if (row.line < plan.header.firstLine || row.text.trim() === "") continue;
    if (isComment(row.text)) meet(sink.skipped.comment, row.line);
    else sink.take(rowCells(row.text, plan.dialect.delimiter), row.line);
  }
  return sink;
}

function finish(sink: RowSink, plan: LogPlan, options: LogOptions): LogSeries {
  const findings: LogFinding[] = [...plan.findings, ...settleDateOrder(sink.timeReader, options), ...sink.findings()];
  const timesS = sink.times.finish();
  const lineOf = (row: number): number => sink.lineOf(row);
  const reader = sink.timeReader;
  if (timesS.length === 0)
    throw new InputError({ problem: "no readings were found below the header", remedy: "give a log with readings" });
  if (plan.time.form === "clock" && !plan.time.durations) findings.push(...unwrapClock(timesS, lineOf));
  if (plan.time.form === "stamp" && reader.zoneSeenS === null && options.zone === undefined) {
    findings.push(...unwrapSummerTime(timesS, lineOf));
  }
  let startEpochS: number | null = null;
  if (reader.inTicks) {
    const first = plan.time.form === "clock" && plan.time.durations ? 0 : timesS[0]!;
    if (plan.time.form !== "clock") startEpochS = (reader.originS ?? 0) + first / 1e9;
    for (let i = 0; i < timesS.length; i += 1) timesS[i] = (timesS[i]! - first) / 1e9;
  }
  const values = sink.values.map((value) => value.series.finish());
  findings.push(...putInOrder(timesS, values, lineOf));
  const resolutionS = resolutionOf(plan, reader);
  if (resolutionS !== null) findings.push(...spreadCoarseStamps(timesS, resolutionS, lineOf));
  const series = sink.values.map((value, i) => ({ role: value.role, ...withoutBlanks(timesS, values[i]!) }));
  const of = (role: string) => series.find((one) => one.role === role && one.values.length > 0) ?? null;
  const voltage = of("voltage");
  const current = signedCurrent(of("current"), options, findings);
  const temperature = of("temperature");
  const notes = findings.map(note);
  return {
    recording:
      voltage === null
        ? null
        : { timesS: voltage.timesS, voltagesV: voltage.values, ...(current === null ? {} : { current }) },
    current,
    temperature: temperature === null ? null : { timesS: temperature.timesS, temperaturesC: temperature.values },
    startEpochS,
    clockResolutionS: resolutionS,
    context: plan.header.context,
    understood: notes.filter(({ code }) => !WARNINGS.has(code)),
    warnings: notes.filter(({ code }) => WARNINGS.has(code)),
  };
}

function settleDateOrder(reader: TimeReader, options: LogOptions): LogFinding[] {
  if (reader.source.form !== "stamp") return [];
  const found: LogFinding[] = [];
  if (reader.watch.possible.length < 3 && options.dateOrder === undefined) {
    const settled = reader.watch.settle();
    if (settled === null) {
      throw new InputError({
        problem: `the dates can be read ${reader.watch.possible.join(" or ")}, and nothing in the file settles it`,
        remedy: "say --date-order day-first, month-first or year-first",
      });
    }
    found.push({ code: "date-order", ...settled });
  }
  if (reader.zoneSeenS !== null) found.push({ code: "zone", zone: offsetName(reader.zoneSeenS), because: "stamps" });
  else found.push({ code: "zone", zone: options.zone ?? "UTC", because: options.zone === undefined ? "none" : "told" });
  return found;
}

function offsetName(seconds: number): string {
  if (seconds === 0) return "UTC";
  const minutes = Math.abs(seconds) / 60;
  const part = (n: number): string => String(n).padStart(2, "0");
  return `${seconds < 0 ? "-" : "+"}${part(Math.floor(minutes / 60))}:${part(minutes % 60)}`;
}

function resolutionOf(plan: LogPlan, reader: TimeReader): number | null {
  const source = plan.time;
  if (source.form === "interval") return null;
  const unit = 10 ** -reader.decimals;
  if (source.form === "elapsed") return (unit * source.unit.factor) / 10 ** source.unit.decimalShift;
  if (source.form === "epoch") return unit / 10 ** source.decimalShift;
  return source.form === "excel" ? unit * 86_400 : unit;
}

/** Leaves out the rows without a reading; where there are none the time axis itself is shared. */
function withoutBlanks(timesS: Float64Array, values: Float64Array): { timesS: Float64Array; values: Float64Array } {
  if (!values.some(Number.isNaN)) return { timesS, values };
  const kept = values
    .map((value, i) => (Number.isNaN(value) ? Number.NaN : timesS[i]!))
    .filter((time) => !Number.isNaN(time));
  return { timesS: kept, values: values.filter((value) => !Number.isNaN(value)) };
}

function signedCurrent(
  current: { readonly timesS: Float64Array; readonly values: Float64Array } | null,
  options: LogOptions,
  findings: LogFinding[],
): CurrentSeries | null {
  if (current === null) return null;
  const zeroA = options.currentZeroA ?? 0;
  const sign = options.currentSign ?? 1;
  if (options.currentZeroA !== undefined) findings.push({ code: "current-zero", zeroA });
  if (options.currentSign !== undefined) findings.push({ code: "current-sign", sign });
  if (zeroA === 0 && sign === 1) return { timesS: current.timesS, currentsA: current.values };
  return { timesS: current.timesS, currentsA: current.values.map((value) => sign * (value - zeroA)) };
}
