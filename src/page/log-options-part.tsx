import { useState } from "preact/hooks";
import { z } from "zod";
import { type LogOptionFlag, type LogOptions, LogOptionsSchema } from "../importers/csv/log-options.js";
import { asksFor, fieldName, LOG_FIELDS } from "./page-words.js";
import { TypedInput } from "./typed-input.js";

interface LogOptionsPartProps {
  readonly options: LogOptions;
  /** Why the log could not be read so far; null where it was. */
  readonly refusal: string | null;
  readonly onChange: (change: LogOptions) => void;
}

/** How the log is to be read, each guess to be overruled: what a refusal asks for stands open, the rest is folded. */
export function LogOptionsPart({ options, refusal, onChange }: LogOptionsPartProps) {
  const [problem, setProblem] = useState<string | null>(null);
  const isAsked = (one: LogOptionFlag) => options[one.key] !== undefined || (refusal !== null && asksFor(refusal, one));
  const say = (one: LogOptionFlag, text: string): void => {
    const { key } = one;
    const change = { [key]: text === "" ? undefined : typedValue(key, text) };
    const fits = LogOptionsSchema.safeParse(change).success;
    setProblem(fits ? null : `${fieldName(one)}: '${text}' does not fit; it stays as it was.`);
    if (fits) onChange(change);
  };
  const field = (one: LogOptionFlag) => <OptionField key={one.key} one={one} options={options} onSay={say} />;
  return (
    <>
      <div class="fields">{LOG_FIELDS.filter(isAsked).map(field)}</div>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
      <details>
        <summary>Read the log otherwise</summary>
        <p class="aside">What is left empty is found in the log itself.</p>
        <div class="fields">{LOG_FIELDS.filter((one) => !isAsked(one)).map(field)}</div>
      </details>
    </>
  );
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
  // Choices speak for themselves, and so does the place for a column's name.
  const help = choices !== null || one.help === COLUMN_HELP ? null : one.help;
  const helpId = `help-${one.key}`;
  return (
    <div class="field">
      {/* biome-ignore lint/a11y/noLabelWithoutControl: either control below is its own */}
      <label>
        {fieldName(one)}
        {choices === null ? (
          <TypedInput
            inputMode={one.kind === "number" ? "decimal" : "text"}
            autocapitalize="off"
            placeholder={one.kind === "column" ? "name or number" : ""}
            aria-describedby={help === null ? undefined : helpId}
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
      {help !== null && (
        <span class="aside" id={helpId}>
          {help}
        </span>
      )}
    </div>
  );
}

const COLUMN_HELP = "name, or number from 1";

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
  const kind = LOG_FIELDS.find((one) => one.key === key)?.kind;
  if (kind === "number") return Number(text.replace(",", "."));
  if (kind === "list") return text.split(",").map((word) => word.trim());
  return key === "uncertaintyColumn" && text === "0" ? 0 : text;
}
