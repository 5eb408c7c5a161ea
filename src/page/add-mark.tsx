import { useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { LoadSelect, type NamedLoad } from "./load-select.js";

interface AddMarkProps {
  readonly marks: readonly SwitchingMark[];
  readonly loads: readonly NamedLoad[];
  readonly onAdd: (mark: SwitchingMark) => void;
}

/** One more time, typed. */
export function AddMark({ marks, loads, onAdd }: AddMarkProps) {
  const [timeText, setTimeText] = useState("");
  /** Chosen by the person; until then the load that was marked last, else the first of the profile. */
  const [chosen, setChosen] = useState<string | null | undefined>(undefined);
  const load = chosen === undefined ? (marks.at(-1)?.load ?? loads[0]?.id ?? null) : chosen;
  const timeS = timeText.trim() === "" ? Number.NaN : Number(timeText.replace(",", "."));
  const add = (action: "on" | "off"): void => {
    onAdd({ timeS, load, action });
    setTimeText("");
  };
  return (
    <fieldset class="row add">
      <legend>Add a time</legend>
      <label class="short">
        Seconds
        <input inputMode="decimal" value={timeText} onInput={(event) => setTimeText(event.currentTarget.value)} />
      </label>
      {loads.length > 0 && (
        <div class="labelled">
          <span aria-hidden="true">Load</span>
          <LoadSelect label="Load" loads={loads} value={load} onChange={setChosen} />
        </div>
      )}
      <div class="row">
        <button type="button" class="second" disabled={!Number.isFinite(timeS)} onClick={() => add("on")}>
          went on
        </button>
        <button type="button" class="second" disabled={!Number.isFinite(timeS)} onClick={() => add("off")}>
          went off
        </button>
      </div>
    </fieldset>
  );
}
