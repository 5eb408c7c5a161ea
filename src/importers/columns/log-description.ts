import { stringify } from "yaml";
import { type LogOptions, LogOptionsSchema } from "../csv/log-options.js";
import { InputError } from "../input-error.js";
import { parseYaml, plainValue } from "../profile/yaml-text.js";

const PREAMBLE = `# How a log is read: one line per choice, each an option of the command line by its long name.
# Take a line out to have that choice found from the file again.
`;

const DESCRIPTION_FILE = {
  what: "description of a log",
  giveIt: "give the file that --save-columns wrote",
  fillIt: "write one 'key: value' per line, as --save-columns does",
};

/** A saved description of a log as text, to be read again by `parseLogDescription`. */
export function formatLogDescription(options: LogOptions): string {
  return PREAMBLE + stringify(options);
}

/** Reads a saved description. @throws {InputError} naming the line or the key at fault. */
export function parseLogDescription(text: string, file: string): LogOptions {
  const checked = LogOptionsSchema.safeParse(plainValue(parseYaml(text, file, DESCRIPTION_FILE)));
  if (checked.success) return checked.data;
  const issue = checked.error.issues[0]!;
  const key = issue.code === "unrecognized_keys" ? issue.keys[0]! : issue.path.join(".");
  throw new InputError({
    file,
    problem:
      issue.code === "unrecognized_keys"
        ? `the key '${key}' is not known`
        : `the value of '${key || "the file"}' does not fit (${issue.message})`,
    remedy: `the keys are ${Object.keys(LogOptionsSchema.shape).join(", ")}`,
  });
}

/** The choices of `first`, and those of `second` where `first` has none. */
export function mergeLogOptions(first: LogOptions, second: LogOptions): LogOptions {
  return { ...second, ...Object.fromEntries(Object.entries(first).filter(([, value]) => value !== undefined)) };
}
