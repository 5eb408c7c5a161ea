import { useId } from "preact/hooks";
import { type Draft, valueAt, withValue } from "./profile-draft.js";
import { TypedInput } from "./typed-input.js";

export type Path = readonly (string | number)[];

/** A draft and the way to change it, for every field of the form. */
export interface FormPart {
  readonly draft: Draft;
  /** Told the way from the newest draft, drawn or not, to the next. */
  readonly onChange: (step: (now: Draft) => Draft) => void;
}

interface FieldProps extends FormPart {
  readonly path: Path;
  readonly label: string;
}

/** A number or nothing; what is no number stays as it was typed, for the check to name. */
export function NumberField({ draft, onChange, path, label }: FieldProps) {
  const value = valueAt(draft, path);
  return (
    <label class="short">
      {label}
      <TypedInput
        inputMode="decimal"
        value={value === undefined || value === null ? "" : String(value)}
        onTyped={(typed) => {
          const text = typed.trim();
          const number = Number(text.replace(",", "."));
          onChange((now) => withValue(now, path, text === "" ? undefined : Number.isFinite(number) ? number : text));
        }}
      />
    </label>
  );
}

export function TextField({
  draft,
  onChange,
  path,
  label,
  type = "text",
  ...rest
}: FieldProps & { readonly type?: "text" | "date"; readonly class?: string }) {
  const value = valueAt(draft, path);
  return (
    <label class={rest.class}>
      {label}
      <TypedInput
        type={type}
        value={value === undefined || value === null ? "" : String(value)}
        onTyped={(typed) => onChange((now) => withValue(now, path, typed.trim() || undefined))}
      />
    </label>
  );
}

export function ChoiceField({
  draft,
  onChange,
  path,
  label,
  choices,
  none,
}: FieldProps & { readonly choices: readonly string[]; readonly none?: string }) {
  const value = valueAt(draft, path);
  return (
    <label>
      {label}
      <select
        value={typeof value === "string" ? value : ""}
        onChange={(event) => onChange((now) => withValue(now, path, event.currentTarget.value || undefined))}
      >
        {none !== undefined && <option value="">{none}</option>}
        {choices.map((choice) => (
          <option key={choice} value={choice}>
            {choice}
          </option>
        ))}
      </select>
    </label>
  );
}

export function TickField({ draft, onChange, path, label }: FieldProps) {
  const id = useId();
  return (
    <span class="tick">
      <input
        id={id}
        type="checkbox"
        checked={valueAt(draft, path) === true}
        onChange={(event) => onChange((now) => withValue(now, path, event.currentTarget.checked ? true : undefined))}
      />
      <label for={id}>{label}</label>
    </span>
  );
}

/** A value with its standard uncertainty in milliohms. */
export function ResistanceFields({ path, label, ...part }: FieldProps) {
  return (
    <fieldset>
      <legend>{label}</legend>
      <div class="fields">
        <NumberField {...part} path={[...path, "value"]} label="Value (m&Omega;)" />
        <NumberField {...part} path={[...path, "u"]} label="Standard uncertainty (m&Omega;)" />
      </div>
    </fieldset>
  );
}
