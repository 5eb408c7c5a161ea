import { join } from "node:path";
import type { Command } from "commander";
import type { Cadence } from "../core/index.js";
import { LOG_OPTION_FLAGS } from "../importers/csv/log-options.js";
import { InputError } from "../importers/input-error.js";
import { type AnalysisRequest, judgeRecording } from "./analysis-job.js";
import {
  type ColumnsOptions,
  checkSaveColumns,
  describeColumnsStep,
  readColumns,
  saveColumns,
} from "./columns-step.js";
import { exitStatusOf } from "./exit-status.js";
import { logOptionsFrom } from "./log-option-values.js";
import { type MarkOffset, markOffsetFrom } from "./mark-offset.js";
import { checkOutputFolder, refuseOverwriting, writeIntoFolder } from "./output-folder.js";
import {
  describeEntryTemplate,
  describeRecordOptions,
  type RecordWritingOptions,
  recordWriting,
} from "./record-options.js";
import { checkStoreStep, describeStoreStep, type StoreStepOptions, storeStep } from "./store-step.js";
import { print, progressLine } from "./terminal.js";
import {
  describeWholeBusStep,
  type WholeBusOptions,
  wholeBusOf,
  wholeBusText,
  withWholeBus,
} from "./whole-bus-step.js";

interface AnalyzeOptions extends StoreStepOptions, RecordWritingOptions, WholeBusOptions, ColumnsOptions {
  readonly current?: string;
  readonly currentOffset?: number;
  readonly alignClocks?: true;
  readonly profile?: string;
  readonly marks?: string;
  readonly marksOffset?: MarkOffset;
  readonly dial?: string;
  readonly out?: string;
  readonly json?: true;
  readonly strict?: true;
  readonly explain?: true;
  readonly falseAlarmRate?: number;
  readonly power?: number;
  readonly markUncertainty?: number;
  readonly cadence?: Cadence;
}

/** `busdip analyze`: judges one recording and, if asked, writes its report. */
export function describeCommand(command: Command): void {
  command
    .argument(
      "<recording...>",
      "log of the bus voltage, or one film clip of the meter; several logs are parts of one recording, in order",
    )
    .option("--current <file>", "log of the current from another instrument")
    .option(
      "--current-offset <seconds>",
      "seconds to add to the times of the current log; 0 if both count from the same moment",
      between("--current-offset", -1e9, 1e9),
    )
    .option("--align-clocks", "find how the clocks of the two logs stand from the switchings, whatever they show")
    .option("--profile <file>", "what is known about the bus and its loads (YAML)")
    .option("--marks <file>", "when which load was switched (CSV: time_s,load,action)")
    .option(
      "--marks-offset <seconds>",
      "seconds to add to the marked times; find has them found from the dips, for marks of a plan",
      markOffsetFrom,
    )
    .option("--dial <file>", "where a film clip was given: pivot and scale marks as pointed out on a still (YAML)")
    .option(
      "--out <folder>",
      "write report.html, report.pdf, result.json, entry.txt and recording.csv into this folder",
    )
    .option("--json", "print the result as JSON and nothing else")
    .option("--strict", "exit with 1 if a load shows no response")
    .option("--explain", "also print how the log was understood, why each verdict, and what was assumed")
    .option(
      "--false-alarm-rate <rate>",
      "chance per recording of a false response, 0.01 unless told",
      between("--false-alarm-rate", 1e-6, 0.5),
    )
    .option(
      "--power <power>",
      "chance of finding a dip of the minimum detectable depth, 0.95 unless told",
      between("--power", 0.5, 0.999999),
    )
    .option(
      "--mark-uncertainty <seconds>",
      "how well the marked times are known (standard uncertainty), 0.2 unless told",
      between("--mark-uncertainty", 0.01, 5),
    )
    .option(
      "--cadence <on,off,count>",
      "rhythm of the switching where no times are marked: seconds on, seconds off and, if known, how often (5,5,3)",
      cadenceFrom,
    );
  describeRecordOptions(command);
  describeEntryTemplate(command);
  describeStoreStep(command);
  describeWholeBusStep(command);
  describeColumnsStep(command);
  for (const { flag, help } of LOG_OPTION_FLAGS) command.option(flag.replace(/ (.+)$/, " <$1>"), help);
  command.action(async (recordings: string[], options: AnalyzeOptions) => {
    await runAnalyze(recordings, options, logOptionsFrom(command.opts()));
  });
}

/** Reads `5,5` or `5,5,3`. */
function cadenceFrom(text: string): Cadence {
  const parts = text.split(",").map((part) => (part.trim() === "" ? Number.NaN : Number(part)));
  const [onS, offS, switchingCount] = parts;
  const counted = switchingCount === undefined || (Number.isInteger(switchingCount) && inRange(switchingCount, 1, 20));
  if (parts.length < 2 || parts.length > 3 || !inRange(onS, 1, 60) || !inRange(offS, 1, 60) || !counted) {
    throw new InputError({
      problem: `--cadence is '${text}'`,
      remedy: "give seconds on and seconds off, each from 1 to 60, and the number of switchings if known, as in 5,5,3",
    });
  }
  return switchingCount === undefined ? { onS: onS!, offS: offS! } : { onS: onS!, offS: offS!, switchingCount };
}

function inRange(value: number | undefined, low: number, high: number): boolean {
  return value !== undefined && value >= low && value <= high;
}

async function runAnalyze(
  recordingPaths: readonly string[],
  options: AnalyzeOptions,
  logOptions: AnalysisRequest["logOptions"],
): Promise<void> {
  checkStoreStep(options);
  checkClockOptions(options);
  if (options.out !== undefined) await checkOutputFolder(options.out);
  const inputPaths = [
    ...recordingPaths,
    options.current,
    options.profile,
    options.marks,
    options.dial,
    options.entryTemplate,
    options.check,
    options.columns,
    options.currentColumns,
  ].filter((path) => path !== undefined);
  checkSaveColumns(options, inputPaths);
  const columns = await readColumns(options, options.current);
  const writing = await recordWriting(options);
  const progress = progressLine();
  const recordingOnly = await judgeRecording(
    {
      recordingPaths,
      logOptions,
      columns,
      clocks: {
        ...(options.currentOffset === undefined ? {} : { currentOffsetS: options.currentOffset }),
        ...(options.alignClocks === true ? { alignClocks: true } : {}),
      },
      ...(options.current === undefined ? {} : { currentPath: options.current }),
      ...(options.profile === undefined ? {} : { profilePath: options.profile }),
      ...(options.marks === undefined ? {} : { marksPath: options.marks }),
      ...(options.marksOffset === undefined ? {} : { marksOffset: options.marksOffset }),
      ...(options.dial === undefined ? {} : { dialPath: options.dial }),
      ...(options.falseAlarmRate === undefined ? {} : { falseAlarmRate: options.falseAlarmRate }),
      ...(options.power === undefined ? {} : { power: options.power }),
      ...(options.markUncertainty === undefined ? {} : { markUncertaintyS: options.markUncertainty }),
      ...(options.cadence === undefined ? {} : { cadence: options.cadence }),
      ...(options.temperature === undefined ? {} : { temperatureC: options.temperature }),
      ...(options.charge === undefined ? {} : { stateOfCharge: options.charge }),
    },
    progress,
  );

  const account = await wholeBusOf(recordingOnly, options);
  const judged = withWholeBus(recordingOnly, account);
  let reportPath: string | undefined;
  let readingsLeftOut = false;
  if (options.out !== undefined) {
    progress.say("writing the report");
    const { reportFiles } = await import("./report-files.js");
    const { withFilmPictures } = await import("./film-pictures.js");
    const { files, readingsLeftOut: tooMany } = await reportFiles(await withFilmPictures(judged), writing);
    refuseOverwriting(options.out, files.keys(), inputPaths);
    await writeIntoFolder(options.out, files);
    reportPath = join(options.out, "report.html");
    readingsLeftOut = tooMany;
    progress.done();
  }

  const savedColumns = await saveColumns(options, judged.descriptions);
  const stored = await storeStep(judged, options, reportPath);
  process.exitCode = exitStatusOf(judged.analysis, options.strict === true);
  if (options.json === true) {
    const { toResultJson } = await import("../report/index.js");
    print(JSON.stringify(toResultJson(judged.analysis, judged.context), null, 2));
    return;
  }
  const { summary } = await import("./summary.js");
  const { explanation } = await import("./explanation.js");
  print(summary(judged, reportPath));
  if (account !== null) print(await wholeBusText(account));
  if (judged.clocks !== null) print(judged.clocks);
  if (judged.film !== null) {
    const { sharedGainText } = await import("../importers/video/film-facts.js");
    print(sharedGainText(judged.film.reading.gainUncertainty));
  }
  if (options.explain === true) print(explanation(judged.analysis, judged.context));
  for (const sentence of savedColumns) print(sentence);
  if (stored !== null) print(stored);
  if (readingsLeftOut) print("The readings are too many to be copied beside the report; keep the log itself.");
  if (reportPath === undefined) print("For the report with plots, run it again with --out and a folder.");
}

/** @throws InputError where the person said something about the clocks of two logs and gave one, or said two things. */
function checkClockOptions({ current, currentOffset, alignClocks }: AnalyzeOptions): void {
  if (current === undefined && (currentOffset !== undefined || alignClocks === true)) {
    const flag = alignClocks === true ? "--align-clocks" : "--current-offset";
    throw new InputError({
      problem: `${flag} stands without --current`,
      remedy: "name the current log with --current",
    });
  }
  if (currentOffset !== undefined && alignClocks === true) {
    throw new InputError({
      problem: "--current-offset and --align-clocks exclude each other",
      remedy: "say the offset, or let it be found",
    });
  }
}

/** Reads an option's value that is a number between two bounds. */
function between(flag: string, low: number, high: number): (text: string) => number {
  return (text) => {
    const value = text.trim() === "" ? Number.NaN : Number(text);
    if (value >= low && value <= high) return value;
    throw new InputError({ problem: `${flag} is '${text}'`, remedy: `write a number from ${low} to ${high}` });
  };
}
