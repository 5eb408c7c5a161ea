import { useEffect, useRef, useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import type { BeatLoad } from "./beat-plan.js";
import { type BeatSchedule, beatAt } from "./beat-schedule.js";
import { BeatSound } from "./beat-sound.js";
import { type Filming, film } from "./camera.js";
import { stayAwake } from "./stay-awake.js";
import { TapPad } from "./tap-pad.js";

/** What a beat leaves behind. */
export interface BeatOutcome {
  readonly marks: readonly SwitchingMark[];
  /** The film, with its zero at the marks' zero; null where none was taken. */
  readonly clip: File | null;
  /** The marks' zero, seconds since the epoch. */
  readonly zeroEpochS: number;
}

export interface BeatRunProps {
  readonly schedule: BeatSchedule;
  readonly mode: "beat" | "tap";
  readonly stream: MediaStream | null;
  readonly loads: readonly BeatLoad[];
  /** Told null where nothing was switched; `hasLeft` where the person has gone to another screen meanwhile. */
  readonly onEnd: (outcome: BeatOutcome | null, hasLeft: boolean) => void;
}

/** Seconds before a switching in which each is told by a tick. */
const COUNTDOWN_S = 3;

/** The beat while it runs: what to do now in large words, with sound, and what comes next. */
export function BeatRun({ schedule, mode, stream, loads, onEnd }: BeatRunProps) {
  const [timeS, setTimeS] = useState(0);
  const [marks, setMarks] = useState<readonly SwitchingMark[]>([]);
  const zeroMs = useRef<number | null>(null);
  const filming = useRef<Filming | null>(null);
  const preview = useRef<HTMLVideoElement>(null);
  const ended = useRef(false);
  const given = useRef<SwitchingMark[]>([]);

  const nowS = (): number => Math.round((performance.now() - zeroMs.current!) / 10) / 100;
  const mark = (load: string | null, action: "on" | "off", atS: number): void => {
    given.current.push({ timeS: atS, load, action });
    setMarks([...given.current]);
  };
  const finish = async (keep: boolean, hasLeft = false): Promise<void> => {
    if (ended.current) return;
    ended.current = true;
    if (!keep || given.current.length === 0) {
      filming.current?.cancel();
      for (const track of stream?.getTracks() ?? []) track.stop();
      onEnd(null, hasLeft);
      return;
    }
    // A load that is on when the beat is broken off is switched off now.
    const last = given.current.at(-1)!;
    if (mode === "beat" && last.action === "on") mark(last.load, "off", nowS());
    const zeroEpochS = (performance.timeOrigin + zeroMs.current!) / 1000;
    const clip = filming.current === null ? null : await filming.current.stop();
    onEnd({ marks: given.current, clip, zeroEpochS }, hasLeft);
  };
  const finishNow = useRef(finish);
  finishNow.current = finish;

  useEffect(() => {
    const sound = new BeatSound();
    const letSleep = stayAwake();
    let timer: ReturnType<typeof setInterval> | undefined;
    let stopped = false;
    let ticked = Number.POSITIVE_INFINITY;
    const beat = (): void => {
      const atS = nowS();
      setTimeS(atS);
      if (mode === "tap") return;
      const { done, next, inS } = beatAt(schedule, atS);
      // The mark is the moment of the call itself, which comes late where the device is busy.
      for (const step of schedule.steps.slice(given.current.length, done)) {
        mark(step.load, step.action, atS);
        ticked = Number.POSITIVE_INFINITY;
        if (step.action === "on") sound.on();
        else sound.off();
      }
      const left = Math.ceil(inS);
      if (next !== null && left <= COUNTDOWN_S && left >= 1 && left < ticked) {
        ticked = left;
        sound.tick();
      }
      if (atS >= schedule.totalS) void finishNow.current(true);
    };
    void (async () => {
      await sound.wake();
      if (stream !== null) {
        if (preview.current !== null) preview.current.srcObject = stream;
        filming.current = await film(stream);
      }
      if (stopped) return;
      zeroMs.current = filming.current?.startedAtMs ?? performance.now();
      timer = setInterval(beat, 40);
    })();
    return () => {
      stopped = true;
      clearInterval(timer);
      sound.close();
      letSleep();
      // A way back taken by mistake must not cost what was switched already.
      void finishNow.current(true, true);
    };
  }, [schedule.totalS, mode, stream]);

  return (
    <div class="beat">
      {stream !== null && <video ref={preview} muted playsInline autoPlay aria-label="What the camera sees" />}
      {mode === "beat" ? (
        <Call schedule={schedule} timeS={timeS} last={marks.at(-1) ?? null} loads={loads} />
      ) : (
        <TapPad
          timeS={timeS}
          loads={loads}
          tapped={marks}
          onTap={(load, action) => {
            if (zeroMs.current !== null) mark(load, action, nowS());
          }}
        />
      )}
      <p class="row">
        {mode === "tap" && (
          <button type="button" class="main wide" disabled={marks.length === 0} onClick={() => finish(true)}>
            Done
          </button>
        )}
        <button type="button" class="second wide" onClick={() => finish(mode === "beat")}>
          {mode === "tap" || marks.length === 0 ? "Cancel" : "Stop here"}
        </button>
      </p>
    </div>
  );
}

interface CallProps {
  readonly schedule: BeatSchedule;
  readonly timeS: number;
  readonly last: SwitchingMark | null;
  readonly loads: readonly BeatLoad[];
}

/** What to do now, and in how many seconds what comes next. */
function Call({ schedule, timeS, last, loads }: CallProps) {
  const { next, inS } = beatAt(schedule, timeS);
  const loadOf = (id: string | null) => loads.find((load) => load.id === id);
  const nameOf = (id: string | null) => loadOf(id)?.name ?? "The load";
  const isNewTurn = next !== null && next.action === "on" && (last === null || last.load !== next.load);
  const caution = isNewTurn ? (loadOf(next.load)?.caution ?? null) : null;
  const left = Math.max(0, Math.ceil(inS));
  return (
    <>
      <p class={`now ${last?.action ?? "wait"}`} role="status" aria-live="assertive">
        <span class="what">{last === null ? "wait" : last.action}</span>
        <bdi class="who">{last === null ? "Leave everything as it is" : nameOf(last.load)}</bdi>
      </p>
      <p class={`then ${next !== null && left <= COUNTDOWN_S ? "soon" : ""}`}>
        <b class="count">{left}</b>
        {next === null ? (
          <span>until it is done: leave everything</span>
        ) : (
          <span>
            then <bdi>{nameOf(next.load)}</bdi> {next.action}
          </span>
        )}
      </p>
      {caution !== null && (
        <p class="problem" dir="auto">
          {caution}
        </p>
      )}
      <progress max={schedule.totalS} value={Math.min(timeS, schedule.totalS)} aria-label="How far the beat is" />
    </>
  );
}
