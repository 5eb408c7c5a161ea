import { createHash } from "node:crypto";
import { readFile, stat } from "node:fs/promises";
import { basename } from "node:path";
import { gunzipSync } from "node:zlib";
import type { CurrentSeries, Recording } from "../core/index.js";
import { importLog, type LogSeries, type TemperatureSeries } from "./csv/csv-importer.js";
import { note } from "./csv/log-messages.js";
import type { UnderstoodNote } from "./csv/log-notes.js";
import type { LogOptions } from "./csv/log-options.js";
import type { Wanted } from "./csv/log-plan.js";
import { InputError } from "./input-error.js";

export type { TemperatureSeries } from "./csv/csv-importer.js";
export type { LogFinding, UnderstoodNote } from "./csv/log-notes.js";
export { LOG_OPTION_FLAGS, type LogOptionFlag, type LogOptions, LogOptionsSchema } from "./csv/log-options.js";

/** Where the bytes of a log came from. */
interface LogOrigin {
  /** SHA-256 of the bytes as stored, all files in order, in hex. */
  readonly sha256: string;
  readonly source: string;
  readonly bytes: number;
}

interface LogFacts extends LogOrigin {
  readonly understood: readonly UnderstoodNote[];
  readonly warnings: readonly UnderstoodNote[];
  readonly context: Readonly<Record<string, string>>;
  /** Moment of time zero in seconds since the epoch; null where the log does not tell. */
  readonly startEpochS: number | null;
  /** What the stamps can tell apart, s; null where times were made up from an interval. */
  readonly clockResolutionS: number | null;
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
  const stored = paths === "stdin" ? await readStdin() : await readFileBytes(paths[0]!);
  const source = paths === "stdin" ? "standard input" : basename(paths[0]!);
  const compressed = stored[0] === 0x1f && stored[1] === 0x8b;
  try {
    const series = importLog(compressed ? gunzipSync(stored) : stored, wanted, options);
    const { understood, warnings, context, startEpochS, clockResolutionS } = series;
    const facts = {
      sha256: createHash("sha256").update(stored).digest("hex"),
      source,
      bytes: stored.length,
      understood: compressed ? [note({ code: "compressed" }), ...understood] : understood,
      warnings,
      context,
      startEpochS,
      clockResolutionS,
    };
    return { series, facts };
  } catch (fault) {
    throw fault instanceof InputError && fault.file === undefined ? inFile(fault, source) : fault;
  }
}

function inFile(fault: InputError, file: string): InputError {
  return new InputError({
    file,
    problem: fault.problem,
    remedy: fault.remedy,
    ...(fault.line === undefined ? {} : { line: fault.line }),
    ...(fault.column === undefined ? {} : { column: fault.column }),
  });
}

async function readStdin(): Promise<Uint8Array> {
  const chunks: Buffer[] = [];
  for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks);
}

async function readFileBytes(path: string): Promise<Uint8Array> {
  const facts = await stat(path).catch(() => null);
  if (facts === null) throw new InputError({ file: path, problem: "there is no such file", remedy: "check the path" });
  if (facts.isDirectory()) throw new InputError({ file: path, problem: "this is a folder", remedy: "give a log file" });
  return readFile(path);
}
