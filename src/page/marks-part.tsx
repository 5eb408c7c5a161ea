import { useState } from "preact/hooks";
import { InputError, readMarks, readProfile, writeMarks } from "../importers/browser.js";
import { plainLabel } from "../report/label-text.js";
import { AddMark } from "./add-mark.js";
import { BeatClock } from "./beat-clock.js";
import { FileChoice } from "./file-choice.js";
import { HeardPart } from "./heard-part.js";
import type { LogLook } from "./judge-messages.js";
import type { NamedLoad } from "./load-select.js";
import { MarkUncertainty } from "./mark-uncertainty.js";
import { MarksTable } from "./marks-table.js";
import { inPageWords } from "./page-words.js";
import { saveFile } from "./saving.js";
import { byHand, USUAL_MARK_UNCERTAINTY_S, withInput, withMarks } from "./work.js";
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
  const take = async (file: File): Promise<void> => {
    try {
      const profile = loads === null || work.profileText === null ? null : readProfile(work.profileText, "the profile");
      const marks = readMarks(await file.text(), file.name, profile);
      setProblem(null);
      store.change((now) =>
        withMarks(now, marks, { markUncertaintyS: USUAL_MARK_UNCERTAINTY_S, marksZeroEpochS: null }),
      );
    } catch (fault) {
      if (!(fault instanceof InputError)) throw fault;
      setProblem(inPageWords(fault.message));
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
            store.change((now) => {
              const shifted = now.marks.map((mark) => ({ ...mark, timeS: hundredths(mark.timeS + shiftS) }));
              return withMarks(now, shifted, { marksZeroEpochS: null });
            })
          }
        />
      )}
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}.
        </p>
      )}
      {work.marks.length > 0 && (
        <details open={work.marks.length <= 6}>
          <summary>{work.marks.length === 1 ? "1 marked time" : `${work.marks.length} marked times`}</summary>
          <MarksTable
            marks={work.marks}
            loads={loads ?? []}
            onReplace={(old, mark) =>
              store.change((now) => {
                const marks = now.marks.flatMap((one) => (one !== old ? [one] : mark === null ? [] : [mark]));
                const isMoved = mark !== null && mark.timeS !== old.timeS;
                return withMarks(now, marks, isMoved ? { markUncertaintyS: byHand(now) } : {});
              })
            }
          />
        </details>
      )}
      {work.film !== null && (
        <HeardPart
          heard={work.film.heard}
          marks={work.marks}
          loads={loads ?? []}
          onTake={(heard) => {
            const { uncertaintyS } = work.film!.heard;
            store.change((now) => {
              const markUncertaintyS = now.marks.length === 0 ? uncertaintyS : now.markUncertaintyS;
              return withMarks(now, [...now.marks, ...heard], { markUncertaintyS });
            });
          }}
        />
      )}
      <AddMark
        marks={work.marks}
        loads={loads ?? []}
        onAdd={(mark) => store.change((now) => withMarks(now, [...now.marks, mark], { markUncertaintyS: byHand(now) }))}
      />
      {work.marks.length > 0 && (
        <MarkUncertainty
          uncertaintyS={work.markUncertaintyS}
          onChange={(markUncertaintyS) => store.change((now) => withInput(now, { markUncertaintyS }))}
        />
      )}
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
              onClick={() =>
                store.change((now) =>
                  withMarks(now, [], { marksZeroEpochS: null, markUncertaintyS: USUAL_MARK_UNCERTAINTY_S }),
                )
              }
            >
              Remove all
            </button>
          </>
        )}
      </p>
    </section>
  );
}

const hundredths = (value: number): number => Math.round(100 * value) / 100;

function loadsOf(profileText: string | null): readonly NamedLoad[] | null {
  if (profileText === null) return null;
  try {
    return readProfile(profileText, "the profile").loads.map(({ id, name }) => ({ id, name: plainLabel(name ?? id) }));
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return null;
  }
}
