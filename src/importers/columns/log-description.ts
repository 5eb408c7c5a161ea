import { parseDocument, stringify } from "yaml";
import { type LogOptions, LogOptionsSchema } from "../csv/log-options.js";
import { InputError } from "../input-error.js";

const PREAMBLE = `# How a log is read: one line per choice, each an option of the command line by its long name.
# Take a line out to have that choice found from the file again.
`;

/** A saved description of a log as text, to be read again by `parseLogDescription`. */
export function formatLogDescription(options: LogOptions): string {
  return PREAMBLE + stringify(options);
}

/** Reads a saved description. @throws {InputError} naming the line or the key at fault. */
export function parseLogDescription(text: string, file: string): LogOptions {
  const document = parseDocument(text);
  const fault = document.errors[0];
  if (fault !== undefined) {
    throw new InputError({
      file,
      ...(fault.linePos === undefined ? {} : { line: fault.linePos[0].line }),
      problem: "this is no description of a log",
      remedy: "write one 'key: value' per line, as --save-columns does",
    });
  }
  const checked = LogOptionsSchema.safeParse(document.toJS() ?? {});
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
