import { useEffect, useRef, useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { InputError, readProfile } from "../importers/browser.js";
import { plainLabel } from "../report/label-text.js";
import { shortCautionText } from "../report/messages.js";
import { type BeatOutcome, BeatRun } from "./beat-run.js";
import { beatSchedule } from "./beat-schedule.js";
import { cameraProblem } from "./browser-abilities.js";
import { openCamera } from "./camera.js";
import { goTo } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { withInput, withRecording } from "./work.js";
import { useWork, type WorkStore } from "./work-store.js";

/** How well a hand follows the beat, standard uncertainty. Common practice, no source. */
const BEAT_UNCERTAINTY_S = 0.3;

interface Choice {
  readonly id: string;
  readonly name: string;
  readonly timeLimitS: number | null;
  readonly caution: string | null;
}

/** Choosing the loads and the beat, then the beat itself. */
export function SwitchingScreen({ store }: ScreenProps) {
  const work = useWork(store);
  const all = loadChoices(work.profileText);
  const [left, setLeft] = useState<readonly string[]>([]);
  const [count, setCount] = useState(3);
  const [onS, setOnS] = useState(5);
  const [offS, setOffS] = useState(5);
  const [mode, setMode] = useState<"beat" | "tap">("beat");
  const [filming, setFilming] = useState(cameraProblem() === null);
  const [stream, setStream] = useState<MediaStream | null>(null);
  const [running, setRunning] = useState(false);
  const [problem, setProblem] = useState<string | null>(null);
  const camera = useRef<MediaStream | null>(null);
  useEffect(
    () => () => {
      for (const track of camera.current?.getTracks() ?? []) track.stop();
    },
    [],
  );
  const chosen = all.filter(({ id }) => !left.includes(id));
  const loads = all.length === 0 ? [null] : chosen.map(({ id }) => id);
  const schedule = beatSchedule({ loads, switchingCount: count, onS, offS, quietS: 10 });
  const tooLong = mode === "beat" ? chosen.filter((load) => load.timeLimitS !== null && onS > load.timeLimitS) : [];

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
    setRunning(true);
  };
  const end = (outcome: BeatOutcome | null): void => {
    setRunning(false);
    setStream(null);
    if (outcome !== null) void keep(store, outcome);
  };

  if (running) {
    const names = new Map(all.map(({ id, name }) => [id, name]));
    return <BeatRun schedule={schedule} mode={mode} stream={stream} names={names} loads={loads} onEnd={end} />;
  }
  return (
    <>
      <ul class="cautions" aria-label="Before any load is switched">
        {(["advisory", "hot-probe", "battery-falls"] as const).map((caution) => (
          <li key={caution}>{shortCautionText(caution)}</li>
        ))}
        {chosen.map(({ id, name, caution }) =>
          caution === null ? null : (
            <li key={id}>
              {name}: {plainLabel(caution, 300)}
            </li>
          ),
        )}
      </ul>
      <section aria-labelledby="which-h">
        <h2 id="which-h">What is switched</h2>
        {all.length === 0 ? (
          <p>
            No load is named yet, so the marks will not say which one it was. <a href="#loads">Name the loads</a>
          </p>
        ) : (
          <ul class="ticks">
            {all.map(({ id, name }) => (
              <li key={id} class="tick">
                <input
                  id={`switch-${id}`}
                  type="checkbox"
                  checked={!left.includes(id)}
                  onChange={() => setLeft(left.includes(id) ? left.filter((one) => one !== id) : [...left, id])}
                />
                <label for={`switch-${id}`}>{name}</label>
              </li>
            ))}
          </ul>
        )}
      </section>
      <section aria-labelledby="beat-h">
        <h2 id="beat-h">How</h2>
        <div class="fields">
          <label>
            The times come from
            <select value={mode} onChange={(event) => setMode(event.currentTarget.value as "beat" | "tap")}>
              <option value="beat">the beat, which I follow</option>
              <option value="tap">my taps, as I switch</option>
            </select>
          </label>
          {mode === "beat" && (
            <>
              <Whole label="Times each" value={count} low={1} high={16} onChange={setCount} />
              <Whole label="Seconds on" value={onS} low={2} high={30} onChange={setOnS} />
              <Whole label="Seconds off" value={offS} low={2} high={30} onChange={setOffS} />
            </>
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
        {tooLong.length > 0 && (
          <p class="problem" role="alert">
            {tooLong.map(({ name }) => name).join(", ")}: the profile allows less time on than {onS} s. Shorten it.
          </p>
        )}
        {problem !== null && (
          <p class="problem" role="alert">
            {problem}
          </p>
        )}
        <button type="button" class="main" disabled={loads.length === 0 || tooLong.length > 0} onClick={begin}>
          {mode === "beat" ? `Begin: ${Math.ceil(schedule.totalS)} s` : "Begin"}
        </button>
      </div>
    </>
  );
}

interface WholeProps {
  readonly label: string;
  readonly value: number;
  readonly low: number;
  readonly high: number;
  readonly onChange: (value: number) => void;
}

function Whole({ label, value, low, high, onChange }: WholeProps) {
  return (
    <label class="short">
      {label}
      <input
        type="number"
        min={low}
        max={high}
        step={1}
        value={value}
        onChange={(event) => {
          const typed = Math.round(event.currentTarget.valueAsNumber);
          const kept = Number.isFinite(typed) ? Math.min(high, Math.max(low, typed)) : value;
          event.currentTarget.value = String(kept);
          onChange(kept);
        }}
      />
    </label>
  );
}

function loadChoices(profileText: string | null): readonly Choice[] {
  if (profileText === null) return [];
  try {
    return readProfile(profileText, "the profile").loads.map((load) => ({
      id: load.id,
      name: plainLabel(load.name ?? load.id),
      timeLimitS: load.timeLimitS ?? null,
      caution: load.caution ?? null,
    }));
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return [];
  }
}

/** Goes on with what the beat gave: to the dial where there is a clip, else to the choice of a recording. */
async function keep(store: WorkStore, outcome: BeatOutcome): Promise<void> {
  const marks: readonly SwitchingMark[] = outcome.marks;
  const common = { marks, markUncertaintyS: BEAT_UNCERTAINTY_S } as const;
  if (outcome.clip === null) {
    store.change(withInput(store.work, { ...common, marksZeroEpochS: outcome.zeroEpochS }));
    goTo(store.work.file === null ? "start" : "recording");
    return;
  }
  const file = await store.keepFile(outcome.clip, outcome.clip.name);
  store.change(withRecording(store.work, "clip", file, { ...common, marksZeroEpochS: null }));
  goTo("clip");
}
