import { InputError } from "../importers/input-error.js";
import type { LogOptions, LogReading } from "../importers/node.js";
import type { ClockWishes } from "./clock-pair.js";
import type { LogDescriptions } from "./columns-step.js";

/** What was read from the logs, as far as the rest of the job needs it. */
export type ReadRecording = Pick<LogReading, "recording" | "sha256" | "source" | "description"> & {
  /** What was understood and doubted on the way, one sentence each. */
  readonly understood: readonly string[];
  /** How the logs were read, in few words, and what to look at; left out where there was none. */
  readonly digest?: readonly string[];
  /** Options that bring about the same reading of the current log again; left out without one. */
  readonly currentDescription?: LogOptions;
  /** How the clocks of two logs were brought together; null for a single log. */
  readonly clocks: string | null;
};

/**
 * The recording in the voltage log, with the current of a second log where there is one, on the voltage log's clock.
 *
 * A path `-` stands for standard input.
 *
 * @throws InputError where a log cannot be read, the two do not overlap, or nothing tells how their clocks stand.
 */
export async function readRecording(
  recordingPaths: readonly string[],
  currentPath: string | undefined,
  options: LogOptions,
  columns: LogDescriptions = {},
  wishes: ClockWishes = {},
): Promise<ReadRecording> {
  const { logDigest, mergeLogOptions, readCurrentLog, readLog } = await import("../importers/node.js");
  const volts = await readLog(fromPaths(recordingPaths), mergeLogOptions(options, columns.recording ?? {}));
  refuseSingleMoment(volts);
  const digest = logDigest([...volts.understood, ...volts.warnings]);
  const sentences = [...volts.understood, ...volts.warnings].map((one) => one.text);
  if (currentPath === undefined) {
    return {
      recording: volts.recording,
      sha256: volts.sha256,
      source: volts.source,
      description: volts.description,
      understood: sentences,
      digest,
      clocks: null,
    };
  }
  const amperes = await readCurrentLog(
    fromPaths([currentPath]),
    mergeLogOptions(currentOptions(options), columns.current ?? {}),
  );
  const { onOneClock } = await import("./clock-pair.js");
  const { current, sentence } = onOneClock(volts, amperes, wishes);
  return {
    recording: { ...volts.recording, current },
    sha256: volts.sha256,
    source: `${volts.source} with ${amperes.source}`,
    description: volts.description,
    currentDescription: amperes.description,
    understood: [
      ...sentences,
      ...[...amperes.understood, ...amperes.warnings].map((one) => `${amperes.source}: ${one.text}`),
      sentence,
    ],
    digest: [
      ...digest,
      ...logDigest([...amperes.understood, ...amperes.warnings]).map((text) => `${amperes.source}: ${text}`),
    ],
    clocks: sentence,
  };
}

function refuseSingleMoment({ recording, source }: LogReading): void {
  const { timesS } = recording;
  if (timesS.at(-1)! > timesS[0]!) return;
  throw new InputError({
    file: source,
    problem: timesS.length === 1 ? "there is only one reading" : `all ${timesS.length} readings have the same time`,
    remedy: "log the voltage for half a minute or longer, before, during and after the switchings",
  });
}

function fromPaths(paths: readonly string[]): readonly string[] | "stdin" {
  if (!paths.includes("-")) return paths;
  if (paths.length === 1) return "stdin";
  throw new InputError({ problem: "'-' stands beside other files", remedy: "read standard input alone" });
}

/** Options that overrule guesses about the voltage log's columns say nothing about another file. */
function currentOptions(options: LogOptions): LogOptions {
  const { voltageColumn, timeColumn, dateColumn, headerLine, ...rest } = options;
  return rest;
}
