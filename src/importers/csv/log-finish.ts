import type { CurrentSeries, Recording } from "../../core/index.js";
import { InputError } from "../input-error.js";
import { unwrapClock, unwrapSummerTime } from "./clock-unwrap.js";
import { spreadCoarseStamps } from "./coarse-stamps.js";
import { refuseDigitClock } from "./digit-clock.js";
import { leaveFarOffOut, leaveOverloadOut, turnNegative } from "./extreme-readings.js";
import { joinFiles } from "./file-joining.js";
import type { LogFileReader } from "./log-file-reader.js";
import { note } from "./log-messages.js";
import { isWarning, type LogFinding, type UnderstoodNote } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { LogPlan } from "./log-plan.js";
import { turnNewestFirst } from "./newest-first.js";
import { describePlan } from "./plan-description.js";
import type { PlaceOf, SeriesSet, ValueRole } from "./series-set.js";
import { putInOrder } from "./time-order.js";
import type { TimeReader } from "./time-reader.js";
import { toldBesideVoltages } from "./told-beside-voltages.js";

const DAY_S = 86_400;

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
  /** Time zero by the log's own clock of day, in seconds since midnight; null where it shows none. */
  readonly startClockS: number | null;
  /** What the stamps can tell apart, s; null where times were made up from an interval. */
  readonly clockResolutionS: number | null;
  readonly context: Readonly<Record<string, string>>;
  /** Options that bring about the same reading again. */
  readonly description: LogOptions;
  readonly understood: readonly UnderstoodNote[];
  readonly warnings: readonly UnderstoodNote[];
}

/** Turns the raw rows of all files into series on one time axis. @throws {InputError} where the times forbid it. */
export function finishLog(set: SeriesSet, readers: readonly LogFileReader[], options: LogOptions): LogSeries {
  const first = readers[0]!.sink!;
  const { plan, timeReader } = first;
  const findings: LogFinding[] = [
    ...plan.findings,
    ...zoneFindings(timeReader, options),
    ...readers.flatMap(fileFindings),
  ];
  const timesS = set.times.finish();
  if (timesS.length === 0) {
    throw new InputError({ problem: "no readings were found below the header", remedy: "give a log with readings" });
  }
  const values = new Map([...set.values].map(([role, series]) => [role, series.finish()]));
  if (timeReader.inTicks) findings.push(...turnNewestFirst(set, [timesS, ...values.values()]));
  const placeOf: PlaceOf = (row) => set.placeOf(row);
  findings.push(...joinFiles(set, readers, [timesS, ...values.values()], options));
  const startS = toSeconds(timesS, plan, timeReader, options, findings, placeOf);
  const rising = onlyRises(timesS);
  if (!rising) findings.push(...putInOrder(timesS, [...values.values()], placeOf));
  const resolutionS = resolutionOf(plan, timeReader);
  const spread = rising || resolutionS === null ? [] : spreadCoarseStamps(timesS, resolutionS, placeOf);
  findings.push(...spread);
  const movedS = startsAtFirstReading(plan) ? shiftToZero(timesS) : 0;
  const start = startS === null ? null : startS + movedS;
  if (countsPlainSeconds(plan, options)) refuseDigitClock(timesS, placeOf);
  const leftOut = new Set<ValueRole>();
  for (const role of ["voltage", "current"] as const) {
    const found = leaveOverloadOut(values.get(role) ?? new Float64Array(0), role, placeOf);
    if (found.length > 0) leftOut.add(role);
    findings.push(...found);
  }
  const farOff = values.has("voltage") ? leaveFarOffOut(values.get("voltage")!, placeOf) : [];
  if (farOff.length > 0) leftOut.add("voltage");
  findings.push(...farOff);
  if (values.has("voltage")) findings.push(...turnNegative(values.get("voltage")!));
  const doubt = scaleDoubt(plan, timesS, options);
  if (doubt !== null) findings.push(doubt);
  const gainUncertainty = sharedGain(plan.header.context);
  if (gainUncertainty !== null) findings.push({ code: "shared-gain", gainUncertainty });
  const blank = (role: ValueRole): boolean =>
    leftOut.has(role) || set.partial.has(role) || readers.some(({ sink }) => sink!.hasBlanks(role));
  return {
    ...seriesOf(
      { timesS, values, blank, placeOf, clockResolutionS: resolutionOfTimes(resolutionS, spread), gainUncertainty },
      plan,
      options,
      findings,
    ),
    startEpochS: plan.time.form === "clock" ? null : start,
    startClockS: showsClock(plan, timeReader, options) && start !== null ? modulo(start, DAY_S) : null,
    clockResolutionS: resolutionS,
    context: plan.header.context,
    description: describePlan(plan, readers[0]!.encoding!.encoding, timeReader.settledOrder, options),
    ...sorted(findings),
  };
}

function sorted(findings: readonly LogFinding[]): Pick<LogSeries, "understood" | "warnings"> {
  const notes = findings.map(note);
  return { understood: notes.filter((one) => !isWarning(one)), warnings: notes.filter(isWarning) };
}

/** Whether times are those of a clock on the wall, with or without a date, and no zone moved them. */
function showsClock({ time }: LogPlan, reader: TimeReader, options: LogOptions): boolean {
  if (time.form === "clock") return !time.durations;
  return (time.form === "stamp" || time.form === "excel") && reader.zoneSeenS === null && options.zone === undefined;
}

function modulo(value: number, by: number): number {
  return ((value % by) + by) % by;
}

/**
 * Ticks and clock readings become seconds from the first reading; returns its moment, since the epoch or by a clock
 * without dates since midnight, where the log tells.
 */
function toSeconds(
  timesS: Float64Array,
  plan: LogPlan,
  reader: TimeReader,
  options: LogOptions,
  findings: LogFinding[],
  placeOf: PlaceOf,
): number | null {
  const { time } = plan;
  if (!reader.inTicks) return null;
  if (time.form === "clock" && !time.durations) findings.push(...unwrapClock(timesS, placeOf));
  if (time.form === "stamp" && reader.zoneSeenS === null && options.zone === undefined) {
    findings.push(...unwrapSummerTime(timesS, reader.originS ?? 0, placeOf));
  }
  const start = !startsAtFirstReading(plan) ? 0 : timesS.reduce((least, tick) => Math.min(least, tick));
  for (let i = 0; i < timesS.length; i += 1) timesS[i] = (timesS[i]! - start) / 1e9;
  return time.form === "clock" && time.durations ? null : (reader.originS ?? 0) + start / 1e9;
}

function onlyRises(timesS: Float64Array): boolean {
  for (let i = 1; i < timesS.length; i += 1) if (timesS[i]! <= timesS[i - 1]!) return false;
  return true;
}

/** Clock times count from the first reading; elapsed times keep their own zero. */
function startsAtFirstReading({ time }: LogPlan): boolean {
  return time.form !== "elapsed" && time.form !== "interval" && !(time.form === "clock" && time.durations);
}

/** Lets the first reading stand at zero; returns by how much times were moved. */
function shiftToZero(timesS: Float64Array): number {
  const start = timesS[0]!;
  if (start !== 0) for (let i = 0; i < timesS.length; i += 1) timesS[i] = timesS[i]! - start;
  return start;
}

function fileFindings(reader: LogFileReader): LogFinding[] {
  const sink = reader.sink!;
  const found = sink.findings();
  const { encoding, because } = reader.encoding!;
  if (encoding !== "utf-8" || because === "told") found.unshift({ code: "encoding", encoding, because });
  if (reader.cutShortLine !== null) found.push({ code: "cut-short", line: reader.cutShortLine });
  const order = sink.timeReader.settledOrder;
  if (order !== null)
    found.push({ code: "date-order", order, because: sink.plan.dateOrderBecause ?? sink.timeReader.orderBecause });
  if (sink.timeReader.repeatedHourLine !== null)
    found.push({ code: "repeated-hour", line: sink.timeReader.repeatedHourLine });
  return found;
}

function zoneFindings(reader: TimeReader, options: LogOptions): LogFinding[] {
  if (reader.source.form !== "stamp") return [];
  if (reader.zoneSeenS !== null) return [{ code: "zone", zone: offsetName(reader.zoneSeenS), because: "stamps" }];
  return [{ code: "zone", zone: options.zone ?? "UTC", because: options.zone === undefined ? "none" : "told" }];
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
  const places =
    reader.decimals +
    (source.form === "elapsed" ? source.unit.decimalShift : 0) +
    (source.form === "epoch" ? source.decimalShift : 0);
  const unit = Number(`1e${-places}`);
  if (source.form === "stamp" || source.form === "clock") return unit * reader.stampUnitS;
  if (source.form === "elapsed") return unit * source.unit.factor;
  return source.form === "excel" ? unit * 86_400 : unit;
}

/** What the times can tell apart: better than the stamps where one even rate agrees with all of them. */
function resolutionOfTimes(stampS: number | null, spread: readonly LogFinding[]): number | null {
  const even = spread.find((one) => one.code === "spread" && one.even);
  return stampS === null || even?.code !== "spread" ? stampS : stampS / even.perStamp;
}

/** Whether times were taken for seconds although nothing says so. */
function countsPlainSeconds({ time, columns }: LogPlan, options: LogOptions): boolean {
  const told = options.timeUnit !== undefined || options.timeFormat !== undefined;
  return time.form === "elapsed" && !told && columns[time.column]!.unit === null;
}

/** Whole numbers in tens without a unit may well count milliseconds. */
function scaleDoubt(plan: LogPlan, timesS: Float64Array, options: LogOptions): LogFinding | null {
  const source = plan.time;
  if (source.form !== "elapsed" || options.timeUnit !== undefined || timesS.length < 3) return null;
  if (plan.columns[source.column]!.unit !== null || plan.columns[source.column]!.decimals > 0) return null;
  const stepS = (timesS.at(-1)! - timesS[0]!) / (timesS.length - 1);
  return stepS >= 10 ? { code: "time-scale-doubt", stepS } : null;
}

interface RawSeries {
  readonly placeOf: PlaceOf;
  /** What the times can tell apart. */
  readonly clockResolutionS: number | null;
  /** Of the gain that all voltages share; null where the log tells none. */
  readonly gainUncertainty: number | null;
  readonly timesS: Float64Array;
  readonly values: ReadonlyMap<ValueRole, Float64Array>;
  /** Whether some row has no reading of that role. */
  readonly blank: (role: ValueRole) => boolean;
}

function seriesOf(
  { timesS, values, blank, placeOf, clockResolutionS, gainUncertainty }: RawSeries,
  plan: LogPlan,
  options: LogOptions,
  findings: LogFinding[],
): Pick<LogSeries, "recording" | "current" | "temperature"> {
  const of = (role: ValueRole): { timesS: Float64Array; values: Float64Array } | null => {
    const series = values.get(role);
    if (series === undefined) return null;
    const kept = blank(role) ? withoutBlanks(timesS, series) : { timesS, values: series };
    return kept.values.length === 0 ? null : kept;
  };
  const voltage = of("voltage");
  const beside = voltage === null ? {} : toldBesideVoltages(values, voltage.values.length, placeOf);
  const current = signedCurrent(of("current"), options, findings);
  const temperature = of("temperature");
  return {
    recording:
      voltage === null
        ? null
        : {
            timesS: voltage.timesS,
            voltagesV: voltage.values,
            ...(current === null ? {} : { current }),
            ...beside,
            ...(gainUncertainty === null ? {} : { gainUncertainty }),
            ...(clockResolutionS === null ? {} : { clockResolutionS }),
          },
    current,
    temperature:
      temperature === null ? null : { timesS: temperature.timesS, temperaturesC: inCelsius(temperature.values, plan) },
  };
}

/**
 * The standard uncertainty of the gain of all voltages that the line `# gain_u: 0.004` above the readings tells, as a share.
 *
 * @throws {InputError} where it is no such share.
 */
function sharedGain(context: Readonly<Record<string, string>>): number | null {
  const told = context.gain_u;
  if (told === undefined) return null;
  const share = Number(told);
  if (share >= 0 && share <= LARGEST_GAIN_U) return share > 0 ? share : null;
  throw new InputError({
    problem: `the line gain_u above the readings says '${told.slice(0, 40)}', which is no standard uncertainty of a gain`,
    remedy: "give it as a share from 0 to 10 with a decimal point, such as 0.004, or leave the line out",
  });
}

/** Chosen: a gain less certain than this tells nothing of anything. */
const LARGEST_GAIN_U = 10;

/** Leaves out the rows without a reading; where there are none the time axis itself is shared. */
function withoutBlanks(timesS: Float64Array, values: Float64Array): { timesS: Float64Array; values: Float64Array } {
  let count = 0;
  for (let i = 0; i < values.length; i += 1) if (!Number.isNaN(values[i])) count += 1;
  if (count === values.length) return { timesS, values };
  const keptTimesS = new Float64Array(count);
  const kept = new Float64Array(count);
  let at = 0;
  for (let i = 0; i < values.length; i += 1) {
    if (Number.isNaN(values[i])) continue;
    keptTimesS[at] = timesS[i]!;
    kept[at] = values[i]!;
    at += 1;
  }
  return { timesS: keptTimesS, values: kept };
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

function inCelsius(values: Float64Array, plan: LogPlan): Float64Array {
  const symbol = plan.temperature?.unit.symbol;
  if (symbol === "K") return values.map((value) => value - 273.15);
  return symbol === "F" ? values.map((value) => ((value - 32) * 5) / 9) : values;
}
