import { useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { InputError, readMarks, readProfile, writeMarks } from "../importers/browser.js";
import { plainLabel } from "../report/label-text.js";
import { BeatClock } from "./beat-clock.js";
import { FileChoice } from "./file-choice.js";
import { HeardPart } from "./heard-part.js";
import type { LogLook } from "./judge-messages.js";
import { LoadSelect, type NamedLoad } from "./load-select.js";
import { saveFile } from "./saving.js";
import { TypedInput } from "./typed-input.js";
import { byHand, USUAL_MARK_UNCERTAINTY_S, withInput } from "./work.js";
import { useWork, type WorkStore } from "./work-store.js";

interface MarksPartProps {
  readonly store: WorkStore;
  readonly look: LogLook | null;
}

/** When which load was switched: typed, tapped, from a file, or from the beat. */
export function MarksPart({ store, look }: MarksPartProps) {
  const work = useWork(store);
  const [problem, setProblem] = useState<string | null>(null);
  const loads = loadsOf(work.profileText);
  const setMarks = (marks: readonly SwitchingMark[], more: Partial<typeof work> = {}): void =>
    store.change(withInput(work, { marks: [...marks].sort((a, b) => a.timeS - b.timeS), ...more }));
  const take = async (file: File): Promise<void> => {
    try {
      const profile = loads === null || work.profileText === null ? null : readProfile(work.profileText, "the profile");
      const marks = readMarks(await file.text(), file.name, profile);
      setProblem(null);
      setMarks(marks, { markUncertaintyS: USUAL_MARK_UNCERTAINTY_S, marksZeroEpochS: null });
    } catch (fault) {
      if (!(fault instanceof InputError)) throw fault;
      setProblem(fault.message);
    }
  };
  return (
    <section aria-labelledby="marks-h">
      <h2 id="marks-h">Switchings</h2>
      {work.marks.length === 0 && (
        <p>No times are marked: the whole recording will be searched. Marked times find much smaller dips.</p>
      )}
      {work.marksZeroEpochS !== null && (
        <BeatClock
          zeroEpochS={work.marksZeroEpochS}
          look={look}
          onShift={(shiftS) =>
            setMarks(
              work.marks.map((mark) => ({ ...mark, timeS: Math.round(100 * (mark.timeS + shiftS)) / 100 })),
              { marksZeroEpochS: null },
            )
          }
        />
      )}
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
      {work.marks.length > 0 && (
        <details open={work.marks.length <= 6}>
          <summary>{work.marks.length === 1 ? "1 marked time" : `${work.marks.length} marked times`}</summary>
          <MarksTable marks={work.marks} loads={loads ?? []} onChange={setMarks} />
        </details>
      )}
      {work.film !== null && (
        <HeardPart
          heard={work.film.heard}
          marks={work.marks}
          loads={loads ?? []}
          onTake={(heard) => {
            const { uncertaintyS } = work.film!.heard;
            const markUncertaintyS = work.marks.length === 0 ? uncertaintyS : work.markUncertaintyS;
            setMarks([...work.marks, ...heard], { markUncertaintyS });
          }}
        />
      )}
      <AddMark
        marks={work.marks}
        loads={loads ?? []}
        onAdd={(mark) => setMarks([...work.marks, mark], { markUncertaintyS: byHand(work) })}
      />
      <p class="row">
        <FileChoice accept=".csv,.txt,text/*" onFile={take}>
          Choose a marks file
        </FileChoice>
        {work.marks.length > 0 && (
          <>
            <button
              type="button"
              class="second"
              onClick={() => saveFile(new Blob([writeMarks(work.marks)], { type: "text/csv" }), "marks.csv")}
            >
              Save the marks
            </button>
            <button
              type="button"
              class="second"
              onClick={() => setMarks([], { marksZeroEpochS: null, markUncertaintyS: USUAL_MARK_UNCERTAINTY_S })}
            >
              Remove all
            </button>
          </>
        )}
      </p>
    </section>
  );
}

function loadsOf(profileText: string | null): readonly NamedLoad[] | null {
  if (profileText === null) return null;
  try {
    return readProfile(profileText, "the profile").loads.map(({ id, name }) => ({ id, name: plainLabel(name ?? id) }));
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return null;
  }
}

interface MarksTableProps {
  readonly marks: readonly SwitchingMark[];
  readonly loads: readonly NamedLoad[];
  readonly onChange: (marks: readonly SwitchingMark[]) => void;
}

function MarksTable({ marks, loads, onChange }: MarksTableProps) {
  const replace = (index: number, mark: SwitchingMark | null): void =>
    onChange(marks.flatMap((one, i) => (i !== index ? [one] : mark === null ? [] : [mark])));
  return (
    <div class="table marks">
      <table>
        <thead>
          <tr>
            <th scope="col">Time (s)</th>
            <th scope="col">Load</th>
            <th scope="col">Switched</th>
            <th scope="col">
              <span class="unseen">Remove</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {marks.map((mark, i) => (
            <tr key={`${mark.timeS}-${mark.action}-${i}`}>
              <td>
                <TypedInput
                  type="number"
                  step="any"
                  aria-label={`Time of mark ${i + 1} in seconds`}
                  value={String(Number(mark.timeS.toFixed(3)))}
                  onTyped={(text) => {
                    const timeS = text.trim() === "" ? Number.NaN : Number(text);
                    if (Number.isFinite(timeS)) replace(i, { ...mark, timeS });
                  }}
                />
              </td>
              <td>
                <LoadSelect
                  label={`Load of mark ${i + 1}`}
                  loads={loads}
                  value={mark.load}
                  onChange={(load) => replace(i, { ...mark, load })}
                />
              </td>
              <td>
                <button
                  type="button"
                  class="second"
                  aria-label={`Mark ${i + 1} is ${mark.action}; change`}
                  onClick={() => replace(i, { ...mark, action: mark.action === "on" ? "off" : "on" })}
                >
                  {mark.action}
                </button>
              </td>
              <td>
                <button
                  type="button"
                  class="quiet"
                  aria-label={`Remove mark ${i + 1}`}
                  onClick={() => replace(i, null)}
                >
                  &times;
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

interface AddMarkProps {
  readonly marks: readonly SwitchingMark[];
  readonly loads: readonly NamedLoad[];
  readonly onAdd: (mark: SwitchingMark) => void;
}

function AddMark({ marks, loads, onAdd }: AddMarkProps) {
  const [timeText, setTimeText] = useState("");
  const last = marks.at(-1);
  const [load, setLoad] = useState<string | null>(last?.load ?? loads[0]?.id ?? null);
  const timeS = timeText.trim() === "" ? Number.NaN : Number(timeText.replace(",", "."));
  const add = (action: "on" | "off"): void => {
    onAdd({ timeS, load, action });
    setTimeText("");
  };
  return (
    <fieldset class="row">
      <legend>Add a time</legend>
      <label class="short">
        Seconds
        <input inputMode="decimal" value={timeText} onInput={(event) => setTimeText(event.currentTarget.value)} />
      </label>
      {loads.length > 0 && (
        <div class="labelled">
          <span aria-hidden="true">Load</span>
          <LoadSelect label="Load" loads={loads} value={load} onChange={setLoad} />
        </div>
      )}
      <button type="button" class="second" disabled={!Number.isFinite(timeS)} onClick={() => add("on")}>
        went on
      </button>
      <button type="button" class="second" disabled={!Number.isFinite(timeS)} onClick={() => add("off")}>
        went off
      </button>
    </fieldset>
  );
}
