import { LOG_OPTION_FLAGS, type LogOptions, LogOptionsSchema } from "../importers/csv/log-options.js";
import { InputError } from "../importers/input-error.js";

/**
 * What a person said about the log on the command line.
 *
 * @param typed Values as commander hands them over, by the camel-cased names of the flags.
 * @throws InputError naming the flag whose value cannot be.
 */
export function logOptionsFrom(typed: Readonly<Record<string, unknown>>): LogOptions {
  const options: Record<string, unknown> = {};
  for (const { key, flag, kind, help } of LOG_OPTION_FLAGS) {
    const text = typed[attributeName(flag)];
    if (typeof text !== "string") continue;
    options[key] = typedValue(text, kind);
    const parsed = LogOptionsSchema.safeParse({ [key]: options[key] });
    if (!parsed.success) {
      throw new InputError({ problem: `${flag.split(" ")[0]} is '${text}'`, remedy: `expected is ${help}` });
    }
  }
  return LogOptionsSchema.parse(options);
}

/** The name commander gives to a flag: `--time-column COLUMN` is `timeColumn`. */
function attributeName(flag: string): string {
  return flag
    .split(" ")[0]!
    .slice(2)
    .replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());
}

function typedValue(text: string, kind: (typeof LOG_OPTION_FLAGS)[number]["kind"]): unknown {
  switch (kind) {
    case "text":
      return text;
    case "number":
      return text.trim() === "" ? Number.NaN : Number(text);
    case "column":
      return /^\d+$/.test(text) ? Number(text) : text;
    case "list":
      return text.split(",").map((word) => word.trim());
  }
}
