import { createHash } from "node:crypto";
import type { CurrentSeries, Recording } from "../core/index.js";
import { importLogs, type LogSeries, type TemperatureSeries } from "./csv/csv-importer.js";
import { note } from "./csv/log-messages.js";
import type { UnderstoodNote } from "./csv/log-notes.js";
import type { LogOptions } from "./csv/log-options.js";
import type { Wanted } from "./csv/log-plan.js";
import { InputError } from "./input-error.js";
import { logOnDisk, logOnStandardInput, type StoredLog } from "./node-log-file.js";

export { formatLogDescription, mergeLogOptions, parseLogDescription } from "./columns/log-description.js";
export type { TemperatureSeries } from "./csv/csv-importer.js";
export { logDigest } from "./csv/log-digest.js";
export type { LogFinding, UnderstoodNote } from "./csv/log-notes.js";
export { LOG_OPTION_FLAGS, type LogOptionFlag, type LogOptions, LogOptionsSchema } from "./csv/log-options.js";

/** What is known of a log besides its readings. */
export interface LogFacts {
  /** SHA-256 of the bytes as stored, in hex; of several files, of their hashes in order. */
  readonly sha256: string;
  readonly source: string;
  readonly bytes: number;
  readonly understood: readonly UnderstoodNote[];
  readonly warnings: readonly UnderstoodNote[];
  readonly context: Readonly<Record<string, string>>;
  /** Moment of time zero in seconds since the epoch; null where the log does not tell. */
  readonly startEpochS: number | null;
  /** Time zero by the log's own clock of day, in seconds since midnight; null where it shows none. */
  readonly startClockS: number | null;
  /** What the stamps can tell apart, s; null where times were made up from an interval. */
  readonly clockResolutionS: number | null;
  /** Options that bring about the same reading again; see `formatLogDescription`. */
  readonly description: LogOptions;
}

/** A recording read from text logs. */
export interface LogReading extends LogFacts {
  readonly recording: Recording;
  readonly temperature?: TemperatureSeries;
}

/** A current alone, read from text logs such as a clamp meter's. */
export interface CurrentLogReading extends LogFacts {
  readonly current: CurrentSeries;
}

/** Reads a recording from files in order, or from standard input. @throws {InputError} with one sentence for the person. */
export async function readLog(paths: readonly string[] | "stdin", options: LogOptions = {}): Promise<LogReading> {
  const { series, facts } = await readSeries(paths, "voltage", options);
  if (series.recording === null) throw noReadings("voltage", facts.source);
  return {
    ...facts,
    recording: series.recording,
    ...(series.temperature === null ? {} : { temperature: series.temperature }),
  };
}

/** Reads a current alone from files in order, or from standard input. @throws {InputError} with one sentence. */
export async function readCurrentLog(
  paths: readonly string[] | "stdin",
  options: LogOptions = {},
): Promise<CurrentLogReading> {
  const { series, facts } = await readSeries(paths, "current", options);
  if (series.current === null) throw noReadings("current", facts.source);
  return { ...facts, current: series.current };
}

function noReadings(wanted: Wanted, file: string): InputError {
  return new InputError({
    file,
    problem: `no row holds a ${wanted}`,
    remedy: `name the column with --${wanted}-column`,
  });
}

async function readSeries(
  paths: readonly string[] | "stdin",
  wanted: Wanted,
  options: LogOptions,
): Promise<{ series: LogSeries; facts: LogFacts }> {
  const files = paths === "stdin" ? [logOnStandardInput()] : await Promise.all(paths.map(logOnDisk));
  if (files.length === 0)
    throw new InputError({ problem: "no log was given", remedy: "give a file, or - for standard input" });
  const series = await importLogs(files, wanted, options);
  const { understood, warnings, context, startEpochS, startClockS, clockResolutionS, description } = series;
  const compressed = files.some((file) => file.compressed());
  return {
    series,
    facts: {
      sha256: await hashOf(files),
      source: files.map((file) => file.name).join(", "),
      bytes: files.reduce((sum, file) => sum + file.storedBytes(), 0),
      understood: compressed ? [note({ code: "compressed" }), ...understood] : understood,
      warnings,
      context,
      startEpochS,
      startClockS,
      clockResolutionS,
      description,
    },
  };
}

async function hashOf(files: readonly StoredLog[]): Promise<string> {
  if (files.length === 1) return files[0]!.sha256();
  const all = createHash("sha256");
  for (const file of files) all.update(await file.sha256());
  return all.digest("hex");
}
