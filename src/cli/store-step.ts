import { resolve } from "node:path";
import type { Command } from "commander";
import type { JudgedRecording } from "./analysis-job.js";
import { momentAfter } from "./history-store.js";
import { batteryTemperatureAfter, numberAfter } from "./number-option.js";

/** What `analyze` must be told to add its result to the history in the same step. */
export interface StoreStepOptions {
  readonly store?: string | true;
  readonly date?: string;
  readonly battery?: string;
  readonly temperature?: number;
  readonly charge?: number;
}

/** Adds the options of the step to a command. */
export function describeStoreStep(command: Command): Command {
  return command
    .option("--store [where]", "add the result to the history: a file, a server address, or the usual place")
    .option("--date <date>", "with --store: when the recording was made, 2026-03-02 or 2026-03-02T10:30:00Z")
    .option("--battery <number>", "with --store: the battery; else the one of the profile")
    .option(
      "--temperature <celsius>",
      "temperature of the battery, to normalise its resistance",
      batteryTemperatureAfter,
    )
    .option("--charge <share>", "state of charge of the battery, 0 to 1", (text) =>
      numberAfter("--charge", text, 0, 1),
    );
}

/** Refuses before any work is done what would fail after it. @throws InputError for a missing date */
export function checkStoreStep(options: StoreStepOptions): void {
  if (options.store !== undefined) momentAfter("--date", options.date);
}

/** Adds the result to the history; the sentence that says so, null where it was not asked for. */
export async function storeStep(
  judged: JudgedRecording,
  options: StoreStepOptions,
  reportPath: string | undefined,
): Promise<string | null> {
  if (options.store === undefined) return null;
  const { addAnalysisToStore, originFromProfile } = await import("./history-entry.js");
  const { toResultJson } = await import("../report/index.js");
  const result = toResultJson(judged.analysis, judged.context);
  const { outcome, battery, place } = addAnalysisToStore(
    result,
    {
      ...originFromProfile(judged.context.profile),
      atS: momentAfter("--date", options.date),
      ...(options.battery === undefined ? {} : { battery: options.battery }),
      ...(options.temperature === undefined ? {} : { temperatureC: options.temperature }),
      ...(options.charge === undefined ? {} : { stateOfCharge: options.charge }),
      ...(reportPath === undefined ? {} : { report: resolve(reportPath) }),
    },
    options.store === true ? undefined : options.store,
  );
  return outcome === "added"
    ? `Added to battery ${battery} in ${place}; see busdip trend ${battery}.`
    : `This recording is in ${place} already; nothing was changed. To put this result in its place: busdip history remove ${result.recording.sha256.slice(0, 12)}, then again.`;
}
