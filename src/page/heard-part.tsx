import { useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { marksInTurn } from "../importers/video/audio/click-marks.js";
import type { HeardSwitch } from "./heard-switch.js";
import { LoadSelect, type NamedLoad } from "./load-select.js";

interface HeardPartProps {
  readonly heard: HeardSwitch;
  readonly marks: readonly SwitchingMark[];
  readonly loads: readonly NamedLoad[];
  readonly onTake: (marks: readonly SwitchingMark[]) => void;
}

/** Clicks heard in the clip, to be looked over and taken as switchings. */
export function HeardPart({ heard, marks, loads, onTake }: HeardPartProps) {
  const [left, setLeft] = useState<readonly number[]>([]);
  /** Chosen by the person; until then the profile's only load. */
  const [chosenLoad, setChosenLoad] = useState<string | null | undefined>(undefined);
  const onlyLoad = loads.length === 1 ? loads[0]!.id : null;
  const load = chosenLoad === undefined ? onlyLoad : chosenLoad;
  if (heard.problem !== null) return <p class="aside">{heard.problem}</p>;
  const open = heard.clicks.filter(({ timeS }) => !marks.some((mark) => Math.abs(mark.timeS - timeS) < 0.02));
  if (open.length === 0) return null;
  const chosen = open.filter(({ timeS }) => !left.includes(timeS));
  const taken = marksInTurn(chosen, load);
  const actionOf = (timeS: number) => (chosen.findIndex((click) => click.timeS === timeS) % 2 === 0 ? "on" : "off");
  return (
    <fieldset class="heard">
      <legend>
        {open.length === 1 ? "1 click was heard" : `${open.length} clicks were heard`}
        {marks.length > 0 && " beside the marks"}
      </legend>
      <ul class="ticks clicks">
        {open.map(({ timeS }) => {
          const isIn = !left.includes(timeS);
          return (
            <li key={timeS} class="tick">
              <input
                id={`click-${timeS}`}
                type="checkbox"
                checked={isIn}
                onChange={() => setLeft(isIn ? [...left, timeS] : left.filter((one) => one !== timeS))}
              />
              <label for={`click-${timeS}`}>
                {timeS.toFixed(2)} s <span class="soft">{isIn ? actionOf(timeS) : "left out"}</span>
              </label>
            </li>
          );
        })}
      </ul>
      <p class="row">
        {loads.length > 0 && (
          <span class="labelled">
            <span aria-hidden="true">Load that clicked</span>
            <LoadSelect label="Load that clicked" loads={loads} value={load} onChange={setChosenLoad} />
          </span>
        )}
        <button type="button" class="second" disabled={taken === null} onClick={() => onTake(taken ?? [])}>
          Take the clicks as marks
        </button>
      </p>
      <p class="aside">
        {taken === null && chosen.length > 0
          ? "An odd number cannot be on and off in turn: leave out what was no switch."
          : "A click does not tell on from off: they are taken in turn, on first. Leave out what was no switch."}
      </p>
    </fieldset>
  );
}
