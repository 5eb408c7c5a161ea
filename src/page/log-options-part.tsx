import { useState } from "preact/hooks";
import { z } from "zod";
import {
  LOG_OPTION_FLAGS,
  type LogOptionFlag,
  type LogOptions,
  LogOptionsSchema,
} from "../importers/csv/log-options.js";
import { TypedInput } from "./typed-input.js";

/** What may be said about one log; the gap between files needs more than one. */
const SAID = LOG_OPTION_FLAGS.filter(({ key }) => key !== "fileGapS");

interface LogOptionsPartProps {
  readonly options: LogOptions;
  /** Why the log could not be read so far; null where it was. */
  readonly refusal: string | null;
  readonly onChange: (change: LogOptions) => void;
}

/** How the log is to be read, each guess to be overruled: what a refusal asks for stands open, the rest is folded. */
export function LogOptionsPart({ options, refusal, onChange }: LogOptionsPartProps) {
  const [problem, setProblem] = useState<string | null>(null);
  const isAsked = ({ key, flag }: LogOptionFlag) =>
    options[key] !== undefined || refusal?.match(wordPattern(flag)) != null;
  const say = ({ key, flag }: LogOptionFlag, text: string): void => {
    const change = { [key]: text === "" ? undefined : typedValue(key, text) };
    const fits = LogOptionsSchema.safeParse(change).success;
    setProblem(fits ? null : `${labelOf(flag)}: '${text}' does not fit; it stays as it was.`);
    if (fits) onChange(change);
  };
  const field = (one: LogOptionFlag) => <OptionField key={one.key} one={one} options={options} onSay={say} />;
  return (
    <>
      <div class="fields">{SAID.filter(isAsked).map(field)}</div>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
      <details>
        <summary>Read the log otherwise</summary>
        <p class="aside">What is left empty is found in the log itself.</p>
        <div class="fields">{SAID.filter((one) => !isAsked(one)).map(field)}</div>
      </details>
    </>
  );
}

/** The options of the command line that a sentence names, by the names of the fields here. */
export function withFieldNames(sentence: string): string {
  return SAID.reduce((text, { flag }) => text.replaceAll(wordPattern(flag), `"${labelOf(flag)}"`), sentence);
}

/** `--voltage-column COLUMN` is named "Voltage column". */
function labelOf(flag: string): string {
  const words = flag.replace(/^--| .*$/g, "").replaceAll("-", " ");
  return words[0]!.toUpperCase() + words.slice(1);
}

function wordPattern(flag: string): RegExp {
  return new RegExp(`${flag.replace(/ .*$/, "")}(?![\\w-])`, "g");
}

interface OptionFieldProps {
  readonly one: LogOptionFlag;
  readonly options: LogOptions;
  readonly onSay: (one: LogOptionFlag, text: string) => void;
}

function OptionField({ one, options, onSay }: OptionFieldProps) {
  const choices = choicesOf(one.key);
  const value = options[one.key];
  const shown = value === undefined ? "" : Array.isArray(value) ? value.join(", ") : String(value);
  return (
    // biome-ignore lint/a11y/noLabelWithoutControl: either control below is its own
    <label title={one.help}>
      {labelOf(one.flag)}
      {choices === null ? (
        <TypedInput
          inputMode={one.kind === "number" ? "decimal" : "text"}
          autocapitalize="off"
          placeholder={one.kind === "column" ? "name or number" : ""}
          value={shown}
          onTyped={(text) => onSay(one, text.trim())}
        />
      ) : (
        <select value={shown} onChange={(event) => onSay(one, event.currentTarget.value)}>
          <option value="">as found</option>
          {choices.map((choice) => (
            <option key={choice} value={choice}>
              {CHOICE_NAMES[choice] ?? choice}
            </option>
          ))}
        </select>
      )}
    </label>
  );
}

const CHOICE_NAMES: Readonly<Record<string, string>> = {
  ",": ", (comma)",
  ";": "; (semicolon)",
  ".": ". (point)",
  "|": "| (bar)",
  stamp: "date and time",
  clock: "time of day",
  excel: "day numbers since 1900",
  "excel-1904": "day numbers since 1904",
  C: "\u00b0C",
  F: "\u00b0F",
};

function choicesOf(key: keyof LogOptions): readonly string[] | null {
  const inner = LogOptionsSchema.shape[key].unwrap();
  return inner instanceof z.ZodEnum ? inner.options : null;
}

function typedValue(key: keyof LogOptions, text: string): unknown {
  const kind = SAID.find((one) => one.key === key)?.kind;
  if (kind === "number") return Number(text.replace(",", "."));
  if (kind === "list") return text.split(",").map((word) => word.trim());
  return key === "uncertaintyColumn" && text === "0" ? 0 : text;
}
