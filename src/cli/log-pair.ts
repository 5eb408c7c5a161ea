import type { CurrentSeries } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { CurrentLogReading, LogOptions, LogReading } from "../importers/node.js";

/** What was read from the logs, as far as the rest of the job needs it. */
export type ReadRecording = Pick<LogReading, "recording" | "sha256" | "source" | "description"> & {
  /** What was understood and doubted on the way, one sentence each. */
  readonly understood: readonly string[];
};

/**
 * The recording in the voltage log, with the current of a second log where there is one.
 *
 * A path `-` stands for standard input.
 *
 * @throws InputError where a log cannot be read or the two do not overlap.
 */
export async function readRecording(
  recordingPaths: readonly string[],
  currentPath: string | undefined,
  options: LogOptions,
): Promise<ReadRecording> {
  const { readCurrentLog, readLog } = await import("../importers/node.js");
  const volts = await readLog(fromPaths(recordingPaths), options);
  refuseSingleMoment(volts);
  const sentences = [...volts.understood, ...volts.warnings].map((one) => one.text);
  if (currentPath === undefined) {
    return {
      recording: volts.recording,
      sha256: volts.sha256,
      source: volts.source,
      description: volts.description,
      understood: sentences,
    };
  }
  const amperes = await readCurrentLog(fromPaths([currentPath]), currentOptions(options));
  const { current, sentence } = onOneClock(volts, amperes);
  return {
    recording: { ...volts.recording, current },
    sha256: volts.sha256,
    source: `${volts.source} with ${amperes.source}`,
    description: volts.description,
    understood: [
      ...sentences,
      ...[...amperes.understood, ...amperes.warnings].map((one) => `${amperes.source}: ${one.text}`),
      sentence,
    ],
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

/** The current on the voltage log's time axis: by the two clocks where both tell the moment, else by a common zero. */
function onOneClock(
  volts: LogReading,
  amperes: CurrentLogReading,
): { readonly current: CurrentSeries; readonly sentence: string } {
  const dated = volts.startEpochS !== null && amperes.startEpochS !== null;
  const shiftS = dated ? amperes.startEpochS! - volts.startEpochS! : 0;
  const timesS = shiftS === 0 ? amperes.current.timesS : amperes.current.timesS.map((timeS) => timeS + shiftS);
  const { timesS: voltTimesS } = volts.recording;
  const overlapS = Math.min(voltTimesS.at(-1)!, timesS.at(-1)!) - Math.max(voltTimesS[0]!, timesS[0]!);
  if (!(overlapS > 0)) {
    throw new InputError({
      file: amperes.source,
      problem: "the current log and the voltage log do not overlap in time",
      remedy: "give logs of the same minutes, with clocks that agree",
    });
  }
  return {
    current: { timesS, currentsA: amperes.current.currentsA },
    sentence: dated
      ? "The two logs were brought together by their own clocks, which are taken to agree."
      : "The two logs are taken to count their time from the same moment, since not both tell date and time.",
  };
}
