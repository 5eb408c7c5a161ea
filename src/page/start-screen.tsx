import { useState } from "preact/hooks";
import { cameraProblem } from "./browser-abilities.js";
import { FileChoice, useDroppedFile } from "./file-choice.js";
import { goTo } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { USUAL_MARK_UNCERTAINTY_S, withRecording } from "./work.js";
import { useWork } from "./work-store.js";

const CLIP_NAME = /\.(mp4|m4v|mov|webm|mkv|3gp)$/i;

/** A clip by its kind or its name; anything else is taken for a log, whose reader says what is wrong with it. */
function isClip(file: File): boolean {
  return file.type.startsWith("video/") || CLIP_NAME.test(file.name);
}

export function StartScreen({ store }: ScreenProps) {
  const [problem, setProblem] = useState<string | null>(null);
  const take = async (file: File): Promise<void> => {
    if (file.size === 0) {
      setProblem(`${file.name} is empty; choose a file with readings.`);
      return;
    }
    setProblem(null);
    const kept = await store.keepFile(file, file.name);
    const kind = isClip(file) ? "clip" : "log";
    const without = { marks: [], markUncertaintyS: USUAL_MARK_UNCERTAINTY_S };
    store.change((now) => {
      // Marks that a beat gave belong to the recording that is being brought now; others belonged to the one before.
      const keepsMarks = now.file === null || now.marksZeroEpochS !== null;
      return withRecording(now, kind, kept, keepsMarks ? {} : without);
    });
    goTo(kind === "clip" ? "clip" : "recording");
  };
  const demo = async (): Promise<void> => {
    const { demoInputs } = await import("./demo-inputs.js");
    const { log, name, profileText, marks } = await demoInputs();
    const file = await store.keepFile(log, name);
    const markUncertaintyS = USUAL_MARK_UNCERTAINTY_S;
    store.change((now) =>
      withRecording(now, "log", file, { profileText, marks, markUncertaintyS, marksZeroEpochS: null }),
    );
    goTo("recording");
  };
  const dropping = useDroppedFile(take);
  const { marks, marksZeroEpochS } = useWork(store);
  const isAwaited = marksZeroEpochS !== null && marks.length > 0;
  const camera = cameraProblem();
  return (
    <div class={dropping ? "dropping" : ""}>
      <p class="lead">
        On battery alone, each load that is switched on pulls the bus voltage down a little. The page finds these dips
        in a recording and says for each load whether it answered, and how sure that is.
      </p>
      {isAwaited && (
        <p class="note" role="status">
          The times of {marks.length === 1 ? "1 switching" : `${marks.length} switchings`} are kept. Now choose the clip
          or the log that was recorded meanwhile.
        </p>
      )}
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
      <div class="choices">
        <button type="button" class="choice" onClick={() => goTo("switching")}>
          <strong>Switch to a beat</strong>
          <span>
            The page says when to switch{camera === null ? " and films the meter meanwhile" : ""}; the times are known.
          </span>
        </button>
        <FileChoice class="choice" accept="video/*" onFile={take}>
          <strong>Choose a clip</strong>
          <span>A film of the meter's needle.</span>
        </FileChoice>
        <FileChoice class="choice" accept=".csv,.txt,.tsv,.log,.dat,.gz,text/*" onFile={take}>
          <strong>Choose a log</strong>
          <span>Readings of a voltage logger, as text. Or drop a file here.</span>
        </FileChoice>
        <button type="button" class="choice" onClick={() => goTo("loads")}>
          <strong>Aircraft and loads</strong>
          <span>{store.work.profileText === null ? "Name what is switched." : "See or change what is switched."}</span>
        </button>
      </div>
      {camera !== null && <p class="aside">{camera}</p>}
      <p class="aside">
        New here?{" "}
        <button type="button" class="link" onClick={demo}>
          Try it with a simulated recording
        </button>
        .
      </p>
    </div>
  );
}
