import { useState } from "preact/hooks";
import { plainLabel } from "../report/label-text.js";
import { ChoiceField, type FormPart, NumberField, TextField, TickField } from "./form-fields.js";
import { type Draft, valueAt, withValue } from "./profile-draft.js";

const KINDS = ["heater", "resistive", "constant-power", "constant-current"] as const;

interface LoadFormProps {
  readonly part: FormPart;
  readonly load: Draft;
  readonly index: number;
  /** What dip is expected of it, as a sentence. */
  readonly dip: string | null;
  readonly onRemove: () => void;
}

/** One load of the profile. */
export function LoadForm({ part, load, index, dip, onRemove }: LoadFormProps) {
  const at = (...path: (string | number)[]) => ["loads", index, ...path];
  const { onChange } = part;
  const name = plainLabel(String(load.name ?? load.id ?? `Load ${index + 1}`));
  const hasRating = (key: string) => valueAt(load, ["rated", key]) !== undefined;
  /** How the rating will be given, while none is. */
  const [wished, setWished] = useState<"current" | "power">("power");
  const byCurrent = hasRating("current_A") || (wished === "current" && !hasRating("power_W"));
  // What is known already is folded away; a load that was just added is filled in.
  const [startsOpen] = useState(load.name === undefined);
  return (
    <details class="load" open={startsOpen}>
      <summary>
        <bdi>{name}</bdi>
        {dip !== null && <span class="expected">{dip}</span>}
      </summary>
      <div class="fields">
        <TextField {...part} path={at("name")} label="Name" class="broad" />
        <TextField {...part} path={at("id")} label="Short id" />
        <ChoiceField {...part} path={at("kind")} label="Kind" choices={KINDS} />
        <label>
          Rating given as
          <select
            value={byCurrent ? "current" : "power"}
            onChange={(event) => {
              setWished(event.currentTarget.value === "current" ? "current" : "power");
              // What was given in the other way is no longer said; nothing is put in its place.
              if (load.rated !== undefined) onChange((now) => withValue(now, at("rated"), undefined));
            }}
          >
            <option value="power">power</option>
            <option value="current">current</option>
          </select>
        </label>
        {byCurrent ? (
          <NumberField {...part} path={at("rated", "current_A")} label="Rated current (A)" />
        ) : (
          <>
            <NumberField {...part} path={at("rated", "power_W")} label="Rated power (W)" />
            <NumberField {...part} path={at("rated", "at_V")} label="at (V)" />
          </>
        )}
        <NumberField {...part} path={at("rated", "tolerance_pct")} label="Tolerance (%)" />
        <NumberField {...part} path={at("accept_A", 0)} label="Lowest acceptable current (A)" />
        <NumberField {...part} path={at("accept_A", 1)} label="Highest acceptable current (A)" />
        <NumberField {...part} path={at("time_limit_s")} label="Longest time on (s)" />
      </div>
      <TickField
        {...part}
        path={at("reference")}
        label="Reference load: its rated current is trusted to find the battery's resistance"
      />
      <p class="row">
        <button type="button" class="quiet" onClick={onRemove}>
          Remove <bdi>{name}</bdi>
        </button>
      </p>
    </details>
  );
}
