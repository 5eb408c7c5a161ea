import { basename, dirname, resolve } from "node:path";
import type { Command } from "commander";
import { formatLogDescription, parseLogDescription } from "../importers/columns/log-description.js";
import type { LogOptions } from "../importers/csv/log-options.js";
import { InputError } from "../importers/input-error.js";
import { readTextFile } from "./input-file.js";
import { writeIntoFolder } from "./output-folder.js";

/** Files that describe how the logs are read. */
export interface ColumnsOptions {
  readonly columns?: string;
  readonly saveColumns?: string;
  readonly currentColumns?: string;
  readonly saveCurrentColumns?: string;
}

/** How the logs are read: of the recording and of the current log, where there is one. */
export interface LogDescriptions {
  readonly recording?: LogOptions;
  readonly current?: LogOptions;
}

export function describeColumnsStep(command: Command): void {
  command
    .option("--columns <file>", "how to read the log, as --save-columns wrote it (YAML); the options below overrule it")
    .option("--save-columns <file>", "write into this file how the log was read, for --columns the next time")
    .option("--current-columns <file>", "how to read the log of --current, as --save-current-columns wrote it")
    .option("--save-current-columns <file>", "write into this file how the log of --current was read");
}

/** @throws InputError where a description cannot be read, or is of a current log that was not given. */
export async function readColumns(options: ColumnsOptions, currentPath: string | undefined): Promise<LogDescriptions> {
  for (const [flag, path] of [
    ["--current-columns", options.currentColumns],
    ["--save-current-columns", options.saveCurrentColumns],
  ]) {
    if (path === undefined || currentPath !== undefined) continue;
    throw new InputError({
      problem: `${flag} stands without --current`,
      remedy: "give the current log, or leave it out",
    });
  }
  return {
    ...(options.columns === undefined ? {} : { recording: await readDescription(options.columns) }),
    ...(options.currentColumns === undefined ? {} : { current: await readDescription(options.currentColumns) }),
  };
}

async function readDescription(path: string): Promise<LogOptions> {
  return parseLogDescription(await readTextFile(path, "the description of a log"), path);
}

/** Refuses to write a description over a file that is read. @throws InputError naming it. */
export function checkSaveColumns(options: ColumnsOptions, inputPaths: readonly string[]): void {
  const inputs = new Set(inputPaths.map((path) => resolve(path)));
  for (const path of [options.saveColumns, options.saveCurrentColumns]) {
    if (path === undefined || !inputs.has(resolve(path))) continue;
    throw new InputError({
      file: path,
      problem: "the description would be written over this input",
      remedy: "give another file after --save-columns",
    });
  }
}

/** Writes the descriptions asked for; returns a sentence for each. @throws InputError where one cannot be written. */
export async function saveColumns(options: ColumnsOptions, found: LogDescriptions): Promise<string[]> {
  const wanted = [
    [options.saveColumns, found.recording, "--columns"],
    [options.saveCurrentColumns, found.current, "--current-columns"],
  ] as const;
  const said: string[] = [];
  for (const [path, description, flag] of wanted) {
    if (path === undefined) continue;
    if (description === undefined)
      throw new InputError({ problem: "a film clip has no columns to save", remedy: "leave out --save-columns" });
    await writeIntoFolder(dirname(path), new Map([[basename(path), formatLogDescription(description)]]));
    said.push(`How the log was read stands in ${path}; give it with ${flag} the next time.`);
  }
  return said;
}
