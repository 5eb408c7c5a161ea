import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { formatDuration } from "../report/number-format.js";
import type { BeatLoad } from "./beat-plan.js";
import { type BeatOutcome, BeatRun, type BeatRunProps } from "./beat-run.js";
import { BEAT_UNCERTAINTY_S, beatSchedule } from "./beat-schedule.js";
import { cameraProblem } from "./browser-abilities.js";
import { openCamera } from "./camera.js";
import { ask } from "./judging.js";
import { goTo, type Screen } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { SwitchCautions } from "./switch-cautions.js";
import { SwitchedLoads } from "./switched-loads.js";
import { withInput, withRecording } from "./work.js";
import { useWork, type WorkStore } from "./work-store.js";

const COUNTS = [3, 4, 5, 6, 8, 10, 12, 16];

type Planned =
  | { readonly state: "planning" }
  | { readonly state: "planned"; readonly loads: readonly BeatLoad[] }
  | { readonly state: "refused"; readonly sentence: string };

/** The beat of each load as the plan gives it, worked out beside the page. */
function usePlan(profileText: string | null, switchingCount: number | null): Planned {
  const [planned, setPlanned] = useState<Planned>({ state: "planning" });
  useEffect(() => {
    const stop = new AbortController();
    void ask({ kind: "plan", profileText, switchingCount }, stop.signal).then((outcome) => {
      if (outcome.kind === "planned") setPlanned({ state: "planned", loads: outcome.loads });
      else if (outcome.kind === "refused") setPlanned({ state: "refused", sentence: outcome.sentence });
      else if (outcome.kind === "fault") setPlanned({ state: "refused", sentence: outcome.message });
    });
    return () => stop.abort();
  }, [profileText, switchingCount]);
  return planned;
}

/** Choosing the loads, then the beat itself. */
export function SwitchingScreen({ store }: ScreenProps) {
  const work = useWork(store);
  const [count, setCount] = useState<number | null>(null);
  const planned = usePlan(work.profileText, count);
  /** Where the person differs from the plan. */
  const [turned, setTurned] = useState<readonly (string | null)[]>([]);
  const [mode, setMode] = useState<"beat" | "tap">("beat");
  const [filming, setFilming] = useState(cameraProblem() === null);
  const [stream, setStream] = useState<MediaStream | null>(null);
  /** What the beat that runs was begun with; null where none runs. */
  const [running, setRunning] = useState<Pick<BeatRunProps, "schedule" | "mode" | "loads"> | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const camera = useRef<MediaStream | null>(null);
  /** No other tab takes the work while loads are switched. */
  const letOthers = useRef(() => {});
  useEffect(
    () => () => {
      for (const track of camera.current?.getTracks() ?? []) track.stop();
    },
    [],
  );
  const all = planned.state === "planned" ? planned.loads : [];
  const isIn = ({ id, isWanted }: BeatLoad) => turned.includes(id) !== isWanted;
  const chosen = all.filter((load) => isIn(load) && (mode === "tap" || load.pattern !== null));
  const schedule = useMemo(
    () => beatSchedule(chosen.flatMap(({ id, pattern }) => (pattern === null ? [] : [{ id, pattern }]))),
    [chosen.map(({ id }) => id).join(), planned],
  );

  const begin = async (): Promise<void> => {
    setProblem(null);
    if (filming) {
      try {
        camera.current = await openCamera();
        setStream(camera.current);
      } catch (fault) {
        setProblem(fault instanceof Error ? fault.message : String(fault));
        setFilming(false);
        return;
      }
    }
    letOthers.current = store.busy();
    setRunning({ schedule, mode, loads: chosen });
  };
  const end = (outcome: BeatOutcome | null, hasLeft: boolean): void => {
    setRunning(null);
    setStream(null);
    const kept = outcome === null ? null : keep(store, outcome);
    void Promise.resolve(kept).then((next) => {
      letOthers.current();
      if (next !== null && !hasLeft) goTo(next);
    });
  };

  if (running !== null) return <BeatRun {...running} stream={stream} onEnd={end} />;
  return (
    <>
      <SwitchCautions loads={chosen} />
      <section aria-labelledby="which-h">
        <h2 id="which-h">What is switched</h2>
        {work.profileText === null && (
          <p>
            No load is named yet, so the marks will not say which one it was. <a href="#loads">Name the loads</a>
          </p>
        )}
        {planned.state === "planning" && <p role="status">Working out the beat ...</p>}
        {planned.state === "refused" && (
          <p class="problem" role="alert">
            {planned.sentence}. <a href="#loads">To the loads</a>
          </p>
        )}
        <SwitchedLoads
          loads={all}
          isIn={isIn}
          withTimes={mode === "beat"}
          onTurn={(id) => setTurned(turned.includes(id) ? turned.filter((one) => one !== id) : [...turned, id])}
        />
      </section>
      <section aria-labelledby="beat-h">
        <h2 id="beat-h">How</h2>
        <div class="fields">
          <label>
            Times come from
            <select value={mode} onChange={(event) => setMode(event.currentTarget.value as "beat" | "tap")}>
              <option value="beat">the beat</option>
              <option value="tap">my taps</option>
            </select>
          </label>
          {mode === "beat" && (
            <label>
              Times each
              <select
                value={count ?? ""}
                onChange={(event) =>
                  setCount(event.currentTarget.value === "" ? null : Number(event.currentTarget.value))
                }
              >
                <option value="">{work.profileText === null ? "3" : "as planned"}</option>
                {COUNTS.map((one) => (
                  <option key={one} value={one}>
                    {one}
                  </option>
                ))}
              </select>
            </label>
          )}
        </div>
        <p class="tick">
          <input
            id="film"
            type="checkbox"
            checked={filming}
            disabled={cameraProblem() !== null}
            onChange={() => setFilming(!filming)}
          />
          <label for="film">Film the meter at the same time</label>
        </p>
        {cameraProblem() !== null && <p class="aside">{cameraProblem()}</p>}
        {!filming && (
          <p class="aside">
            Start the voltage logger, or the camera app, before the beat. The times then count from the start of the
            beat, and the next step asks where that was in the recording.
          </p>
        )}
      </section>
      <div class="decide">
        {problem !== null && (
          <p class="problem" role="alert">
            {problem}
          </p>
        )}
        <button type="button" class="main" disabled={chosen.length === 0} onClick={begin}>
          {mode === "beat" && chosen.length > 0 ? `Begin: ${formatDuration(schedule.totalS)}` : "Begin"}
        </button>
      </div>
    </>
  );
}

/** Keeps what the beat gave; the screen that goes on with it: the dial where there is a clip, else the choice of a recording. */
async function keep(store: WorkStore, { marks, clip, zeroEpochS }: BeatOutcome): Promise<Screen> {
  const common = { marks, markUncertaintyS: BEAT_UNCERTAINTY_S } as const;
  if (clip === null) {
    store.change((now) => withInput(now, { ...common, marksZeroEpochS: zeroEpochS }));
    return "start";
  }
  const file = await store.keepFile(clip, clip.name);
  store.change((now) => withRecording(now, "clip", file, { ...common, marksZeroEpochS: null }));
  return "clip";
}
