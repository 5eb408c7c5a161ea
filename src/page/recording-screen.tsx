import { useEffect, useRef, useState } from "preact/hooks";
import { InputError, readProfile, writeMarks } from "../importers/browser.js";
import type { LogLook } from "./judge-messages.js";
import { ask } from "./judging.js";
import { LoadsSummary } from "./loads-summary.js";
import { LogOptionsPart } from "./log-options-part.js";
import { MarksPart } from "./marks-part.js";
import { inPageWords } from "./page-words.js";
import { goTo } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { TraceGlance } from "./trace-glance.js";
import { byHand, withInput, withMarks } from "./work.js";
import { useWork } from "./work-store.js";

type Glance =
  | { readonly state: "none" }
  | { readonly state: "seen"; readonly look: LogLook }
  | { readonly state: "refused"; readonly sentence: string };

const NO_LONGER_HERE = "The recording is no longer on this device; choose it again";

/** Everything that the judgement will rest on, to be looked over and completed before it is asked for. */
export function RecordingScreen({ store }: ScreenProps) {
  const work = useWork(store);
  const [glance, setGlance] = useState<Glance>({ state: "none" });
  /** The reading that `glance` is of; what is looked at anew in another way stays in view meanwhile. */
  const seen = useRef<string | null>(null);
  const [isLooking, setIsLooking] = useState(true);
  const [stage, setStage] = useState<"reading" | "judging" | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const running = useRef<AbortController | null>(null);
  const source = work.kind === "clip" ? work.clipReadings : work.file;

  useEffect(() => {
    const stop = new AbortController();
    setIsLooking(true);
    if (seen.current !== source?.id) setGlance({ state: "none" });
    seen.current = source?.id ?? null;
    void (async () => {
      if (source === null) return;
      const file = await store.file(source);
      if (stop.signal.aborted) return;
      if (file === undefined) {
        setGlance({ state: "refused", sentence: NO_LONGER_HERE });
        setIsLooking(false);
        return;
      }
      const { logOptions, film } = store.work;
      const outcome = await ask({ kind: "look", file, name: source.name, logOptions, film }, stop.signal);
      if (outcome.kind === "cancelled") return;
      setIsLooking(false);
      if (outcome.kind === "looked") setGlance({ state: "seen", look: outcome.look });
      if (outcome.kind === "refused") setGlance({ state: "refused", sentence: outcome.sentence });
      if (outcome.kind === "fault") setGlance({ state: "refused", sentence: ownFault(outcome.message) });
    })();
    return () => stop.abort();
  }, [source?.id, work.logOptions, store]);
  // What is being judged is no longer what stands here once an input has changed.
  useEffect(() => () => running.current?.abort(), [work]);

  if (source === null) {
    return (
      <p>
        {work.kind === "clip" && work.file !== null ? (
          <>
            The clip has not been read yet. <a href="#clip">To the dial</a>
          </>
        ) : (
          <>
            There is no recording yet. <a href="#start">To the start</a>
          </>
        )}
      </p>
    );
  }

  const judge = async (): Promise<void> => {
    const asked = store.work;
    const { marks, marksZeroEpochS, profileText, markUncertaintyS, logOptions, film } = asked;
    if (marks.length > 0 && marksZeroEpochS !== null) {
      setProblem("First say, under Switchings, where the beat began in this recording.");
      return;
    }
    const file = await store.file(source);
    if (file === undefined) {
      setProblem(`${NO_LONGER_HERE}.`);
      return;
    }
    setProblem(null);
    const stop = new AbortController();
    running.current = stop;
    setStage("reading");
    const marksText = marks.length === 0 ? null : writeMarks(marks);
    const request = { kind: "judge", file, name: source.name, logOptions, film, profileText, marksText } as const;
    const outcome = await ask({ ...request, markUncertaintyS }, stop.signal, setStage);
    if (running.current === stop) running.current = null;
    setStage(null);
    if (outcome.kind === "judged") {
      if (await store.judge(outcome.judged, asked)) goTo("answer");
    } else if (outcome.kind === "refused") setProblem(`${inPageWords(outcome.sentence)}.`);
    else if (outcome.kind === "fault") setProblem(ownFault(outcome.message));
  };

  const profileProblem = problemOfProfile(work.profileText);
  return (
    <>
      <section aria-labelledby="readings-h">
        <h2 id="readings-h">Readings</h2>
        <p class="file-name">
          <bdi>{source.name}</bdi>
        </p>
        {isLooking && <p role="status">Looking at the readings ...</p>}
        {glance.state === "refused" && (
          <p class="problem" role="alert">
            {inPageWords(glance.sentence)}. <a href="#start">Choose another file</a>
          </p>
        )}
        {glance.state === "seen" && (
          <>
            <TraceGlance
              look={glance.look}
              marks={work.marks}
              clicksS={work.film?.heard.clicks.map(({ timeS }) => timeS) ?? []}
              onTap={(timeS, uncertaintyS) =>
                store.change((now) => {
                  const last = now.marks.filter((mark) => mark.timeS <= timeS).at(-1);
                  const action = last?.action === "on" ? ("off" as const) : ("on" as const);
                  const load = last?.load ?? firstLoad(now.profileText);
                  const markUncertaintyS = Math.max(byHand(now), uncertaintyS);
                  return withMarks(now, [...now.marks, { timeS, load, action }], { markUncertaintyS });
                })
              }
            />
            <details>
              <summary>{work.kind === "clip" ? "How the clip was read" : "How the log was understood"}</summary>
              <ul>
                {glance.look.understood.map((sentence) => (
                  <li key={sentence}>{inPageWords(sentence)}</li>
                ))}
              </ul>
            </details>
          </>
        )}
        {work.kind === "log" && glance.state !== "none" && (
          <LogOptionsPart
            options={work.logOptions}
            refusal={glance.state === "refused" ? glance.sentence : null}
            onChange={(change) =>
              store.change((now) => withInput(now, { logOptions: { ...now.logOptions, ...change } }))
            }
          />
        )}
      </section>
      <LoadsSummary store={store} />
      <MarksPart store={store} look={glance.state === "seen" ? glance.look : null} />
      <div class="decide">
        {problem !== null && (
          <p class="problem" role="alert">
            {problem}
          </p>
        )}
        {stage === null ? (
          <button
            type="button"
            class="main"
            disabled={isLooking || glance.state !== "seen" || profileProblem !== null}
            onClick={judge}
          >
            Judge the dips
          </button>
        ) : (
          <div class="progress" role="status">
            <progress aria-label="Working" />
            <span>{stage === "reading" ? "Reading the recording ..." : "Judging the dips ..."}</span>
            <button type="button" class="second" onClick={() => running.current?.abort()}>
              Cancel
            </button>
          </div>
        )}
      </div>
    </>
  );
}

function firstLoad(profileText: string | null): string | null {
  if (profileText === null || problemOfProfile(profileText) !== null) return null;
  return readProfile(profileText, "the profile").loads[0]?.id ?? null;
}

function problemOfProfile(profileText: string | null): string | null {
  if (profileText === null) return null;
  try {
    readProfile(profileText, "the profile");
    return null;
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return fault.message;
  }
}

function ownFault(message: string): string {
  return `This is the page's own fault (${message}); reload it and try again`;
}
