import { useMemo, useRef, useState } from "preact/hooks";
import { CHEMISTRIES } from "../core/index.js";
import { FileChoice } from "./file-choice.js";
import { ChoiceField, type FormPart, NumberField, ResistanceFields, TextField } from "./form-fields.js";
import { LoadForm } from "./load-form.js";
import { predictedDips } from "./predicted-dips.js";
import { type Draft, draftOf, draftProblem, loadsOf, newLoad, withValue } from "./profile-draft.js";
import { saveFile } from "./saving.js";
import { ScaleRises } from "./scale-rises.js";
import { goTo } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { withDraft, withInput } from "./work.js";
import { useWork } from "./work-store.js";

/** The profile as a form: what is known about the bus, its battery, the meter and the loads. */
export function LoadsScreen({ store }: ScreenProps) {
  const work = useWork(store);
  const [problem, setProblem] = useState<string | null>(null);
  /** Another file, or one load less: what was unfolded of the ones before is folded again. */
  const [turn, setTurn] = useState(0);
  const heading = useRef<HTMLHeadingElement>(null);
  const draft = useMemo(() => draftOf(work.profileText), [work.profileText]);
  const wrong = work.profileText === null ? null : draftProblem(work.profileText);
  const dips = useMemo(() => predictedDips(work.profileText), [work.profileText]);
  const change = (step: (now: Draft) => Draft): void => store.change(withDraft(step));
  const part: FormPart = { draft, onChange: change };
  const loads = loadsOf(draft);
  const take = async (file: File): Promise<void> => {
    const text = await file.text();
    const fault = draftProblem(text);
    setProblem(fault === null ? null : `${file.name}: ${fault}`);
    if (fault !== null) return;
    store.change((now) => withInput(now, { profileText: text }));
    setTurn((now) => now + 1);
  };
  const remove = (index: number): void => {
    change((now) =>
      withValue(
        now,
        ["loads"],
        loadsOf(now).filter((_, i) => i !== index),
      ),
    );
    setTurn((now) => now + 1);
    // The button that had the focus is gone, and the next one in its place would remove another load.
    heading.current?.focus();
  };
  return (
    <>
      <p class="lead">
        The more is known, the more can be said: the lowest acceptable current of a load and the battery's resistance
        decide whether a missing dip means anything.
      </p>
      <p class="row">
        <FileChoice accept=".yaml,.yml,text/yaml" onFile={take}>
          Choose a profile
        </FileChoice>
        <button
          type="button"
          class="second"
          disabled={work.profileText === null || wrong !== null}
          onClick={() => saveFile(new Blob([work.profileText ?? ""], { type: "application/yaml" }), "profile.yaml")}
        >
          Save the profile
        </button>
      </p>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
      <section aria-labelledby="each-h">
        <h2 id="each-h" ref={heading} tabIndex={-1}>
          Loads
        </h2>
        {loads.map((load, i) => (
          <LoadForm
            key={`load-${turn}-${i + 1}`}
            part={part}
            load={load}
            index={i}
            dip={dips.get(String(load.id)) ?? null}
            onRemove={() => remove(i)}
          />
        ))}
        <button
          type="button"
          class="second"
          onClick={() => change((now) => withValue(now, ["loads"], [...loadsOf(now), newLoad(loadsOf(now))]))}
        >
          Add a load
        </button>
      </section>
      <BusForm {...part} />
      <div class="decide">
        {wrong !== null && (
          <p class="problem" role="alert">
            Not complete yet: {wrong}.
          </p>
        )}
        <button
          type="button"
          class="main"
          disabled={wrong !== null}
          onClick={() => {
            if (work.profileText === null) change((now) => now);
            goTo(work.file === null ? "start" : "recording");
          }}
        >
          {work.file === null ? "Done" : "Back to the recording"}
        </button>
      </div>
    </>
  );
}

function BusForm(part: FormPart) {
  return (
    <>
      <section aria-labelledby="bus-h">
        <h2 id="bus-h">Aircraft and bus</h2>
        <div class="fields">
          <TextField {...part} path={["aircraft"]} label="Aircraft" />
          <TextField {...part} path={["bus"]} label="Bus" />
          <NumberField {...part} path={["required_endurance_min"]} label="Required endurance (min)" />
        </div>
        <ResistanceFields
          {...part}
          path={["path_resistance_mOhm"]}
          label="Path resistance: cable, contactor and ground up to the sensing point"
        />
      </section>
      <section aria-labelledby="battery-form-h">
        <h2 id="battery-form-h">Battery</h2>
        <div class="fields">
          <TextField {...part} path={["battery", "id"]} label="Number" />
          <ChoiceField
            {...part}
            path={["battery", "chemistry"]}
            label="Chemistry"
            choices={[...CHEMISTRIES]}
            none="not known"
          />
          <NumberField {...part} path={["battery", "cells"]} label="Cells" />
          <NumberField {...part} path={["battery", "capacity_Ah"]} label="Capacity (Ah)" />
          <TextField {...part} path={["battery", "installed"]} label="Installed" type="date" />
        </div>
        <ResistanceFields
          {...part}
          path={["battery", "resistance_mOhm"]}
          label="Internal resistance one second after a step, where it is known from before"
        />
      </section>
      <section aria-labelledby="meter-h">
        <h2 id="meter-h">Meter</h2>
        <div class="fields">
          <NumberField {...part} path={["meter", "full_scale_V"]} label="Full scale (V)" />
          <NumberField {...part} path={["meter", "smallest_division_V"]} label="Smallest division (V)" />
          <NumberField {...part} path={["meter", "zero_V"]} label="Zero mark (V)" />
          <ScaleRises {...part} />
          <NumberField {...part} path={["meter", "lag_s"]} label="Time constant (s)" />
          <NumberField {...part} path={["meter", "friction_V"]} label="Friction of the needle (V)" />
        </div>
      </section>
    </>
  );
}
