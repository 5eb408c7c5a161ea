import type { ComponentChildren } from "preact";
import { useMemo, useState } from "preact/hooks";
import { sharedGainText } from "../importers/video/film-facts.js";
import { namesOf } from "../report/label-text.js";
import { marksLeftOutText } from "../report/marks-left-out.js";
import type { Markup } from "../report/markup.js";
import { shortCautionText } from "../report/messages.js";
import { answerSection, cautionSection } from "../report/sections/answer.js";
import { budgetSection } from "../report/sections/budgets.js";
import { noteSections, provenanceSection, readingsSection } from "../report/sections/notes.js";
import { batterySection, dipSection, verdictSection } from "../report/sections/tables.js";
import { readingsFile, reportFile, resultFile } from "./answer-files.js";
import { FilmStrips } from "./film-strips.js";
import { HistoryStep } from "./history-step.js";
import type { Judged } from "./judge-messages.js";
import { inPageWords } from "./page-words.js";
import { Plots } from "./plots.js";
import { ReadyMarkup } from "./ready-markup.js";
import { canShare, saveFile, share } from "./saving.js";
import type { ScreenProps } from "./screen-props.js";
import { useWork } from "./work-store.js";

/** The verdicts first, then what to do next, then what they rest on. */
export function AnswerScreen({ store, history }: ScreenProps) {
  const { kind, file, dial } = useWork(store);
  const { judged } = store;
  if (judged === null) {
    return (
      <p>
        There is no answer yet. <a href={store.work.file === null ? "#start" : "#recording"}>Back to the recording</a>
      </p>
    );
  }
  const film =
    kind === "clip" && file !== null && dial !== null ? (
      <FilmStrips judged={judged} store={store} file={file} dial={dial} />
    ) : null;
  return <Answer judged={judged} history={history} film={film} />;
}

interface AnswerProps {
  readonly judged: Judged;
  readonly history: ScreenProps["history"];
  /** What the film shows; null for a log. */
  readonly film: ComponentChildren;
}

function Answer({ judged, history, film }: AnswerProps) {
  const { analysis, context } = judged;
  const leftOut = marksLeftOutText(analysis, "all stand under Assumptions");
  const parts = useMemo(() => {
    const nameOf = namesOf(analysis.loads);
    return {
      answer: answerSection(analysis),
      numbers: [verdictSection(analysis, nameOf), dipSection(analysis, nameOf), batterySection(analysis)],
      notes: [noteSections(analysis, nameOf), cautionSection(analysis)],
      budgets: [budgetSection(analysis, nameOf)],
      origin: [
        readingsSection(analysis, { ...context, understood: context.understood.map(inPageWords) }),
        provenanceSection(analysis, context),
      ],
    };
  }, [analysis, context]);
  return (
    <>
      <ReadyMarkup part={parts.answer} />
      <ul class="cautions short" aria-label="Cautions in short">
        {analysis.cautions.map((caution) => (
          <li key={caution}>{shortCautionText(caution)}</li>
        ))}
      </ul>
      {leftOut !== null && <p class="note">{leftOut}</p>}
      {judged.film !== null && <p class="note">{sharedGainText(judged.film.gainUncertainty)}</p>}
      <SaveRow judged={judged} />
      {history !== null && <HistoryStep judged={judged} history={history} />}
      <Plots analysis={analysis} />
      {film}
      <Parts parts={parts.numbers} />
      <Parts parts={parts.notes} />
      <details class="further">
        <summary>Where each uncertainty comes from</summary>
        <Parts parts={parts.budgets} />
      </details>
      <details class="further">
        <summary>The readings and their origin</summary>
        <Parts parts={parts.origin} />
      </details>
    </>
  );
}

function Parts({ parts }: { readonly parts: readonly (Markup | null)[] }) {
  return (
    <>
      {parts.map((part, i) => (
        <ReadyMarkup key={`part-${i + 1}`} part={part} />
      ))}
    </>
  );
}

const FILES = [
  { name: "Report", make: reportFile },
  { name: "Readings (CSV)", make: async (judged: Judged) => readingsFile(judged) },
  { name: "Result (JSON)", make: async (judged: Judged) => resultFile(judged) },
] as const;

function SaveRow({ judged }: { readonly judged: Judged }) {
  const [problem, setProblem] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const withFile = async (make: (judged: Judged) => Promise<File>, use: (file: File) => unknown): Promise<void> => {
    setBusy(true);
    setProblem(null);
    try {
      await use(await make(judged));
    } catch (fault) {
      setProblem(`The file could not be made (${fault instanceof Error ? fault.message : String(fault)}).`);
    } finally {
      setBusy(false);
    }
  };
  const shareable = canShare(new File(["x"], "busdip.html", { type: "text/html" }));
  return (
    <section class="save" aria-labelledby="save-h">
      <h2 id="save-h">Keep it</h2>
      <p class="row">
        {FILES.map(({ name, make }, i) => (
          <button
            key={name}
            type="button"
            class={i === 0 ? "main" : "second"}
            disabled={busy}
            onClick={() => withFile(make, (file) => saveFile(file, file.name))}
          >
            {i === 0 ? "Save the report" : name}
          </button>
        ))}
        {shareable && (
          <button
            type="button"
            class="second"
            disabled={busy}
            onClick={() => withFile(reportFile, (file) => share(file, "Voltage-dip record"))}
          >
            Share
          </button>
        )}
      </p>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
    </section>
  );
}
