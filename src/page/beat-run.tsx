import { useEffect, useRef, useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { type BeatSchedule, beatAt } from "./beat-schedule.js";
import { BeatSound } from "./beat-sound.js";
import { type Filming, film } from "./camera.js";

/** What a beat leaves behind. */
export interface BeatOutcome {
  readonly marks: readonly SwitchingMark[];
  /** The film, with its zero at the marks' zero; null where none was taken. */
  readonly clip: File | null;
  /** The marks' zero, seconds since the epoch. */
  readonly zeroEpochS: number;
}

interface BeatRunProps {
  readonly schedule: BeatSchedule;
  readonly mode: "beat" | "tap";
  readonly stream: MediaStream | null;
  readonly names: ReadonlyMap<string, string>;
  readonly loads: readonly (string | null)[];
  /** Told null where the person broke it off. */
  readonly onEnd: (outcome: BeatOutcome | null) => void;
}

/** The beat while it runs: what to do now in large words, with sound, and what comes next. */
export function BeatRun({ schedule, mode, stream, names, loads, onEnd }: BeatRunProps) {
  const [timeS, setTimeS] = useState(0);
  const [tapped, setTapped] = useState<readonly SwitchingMark[]>([]);
  const zeroMs = useRef<number | null>(null);
  const filming = useRef<Filming | null>(null);
  const preview = useRef<HTMLVideoElement>(null);
  const ended = useRef(false);

  const finish = async (marks: readonly SwitchingMark[] | null): Promise<void> => {
    if (ended.current) return;
    ended.current = true;
    if (marks === null || zeroMs.current === null) {
      filming.current?.cancel();
      for (const track of stream?.getTracks() ?? []) track.stop();
      onEnd(null);
      return;
    }
    const zeroEpochS = (performance.timeOrigin + zeroMs.current) / 1000;
    const clip = filming.current === null ? null : await filming.current.stop();
    onEnd({ marks, clip, zeroEpochS });
  };
  const finishNow = useRef(finish);
  finishNow.current = finish;

  useEffect(() => {
    const sound = new BeatSound();
    let timer: ReturnType<typeof setInterval> | undefined;
    let stopped = false;
    let done = 0;
    let ticked = Number.POSITIVE_INFINITY;
    const beat = (): void => {
      const nowS = (performance.now() - zeroMs.current!) / 1000;
      setTimeS(nowS);
      if (mode === "tap") return;
      const at = beatAt(schedule, nowS);
      if (at.done > done) {
        done = at.done;
        ticked = Number.POSITIVE_INFINITY;
        if (schedule.steps[done - 1]!.action === "on") sound.on();
        else sound.off();
      }
      const left = Math.ceil(at.inS);
      if (at.next !== null && left <= 2 && left >= 1 && left < ticked) {
        ticked = left;
        sound.tick();
      }
      if (nowS >= schedule.totalS) {
        void finishNow.current(schedule.steps.map((step) => ({ ...step })));
      }
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
      void finishNow.current(null);
    };
  }, [schedule.totalS, mode, stream]);

  const at = beatAt(schedule, timeS);
  const last = schedule.steps[at.done - 1] ?? null;
  const nameOf = (load: string | null | undefined) => (load == null ? "the load" : (names.get(load) ?? load));
  return (
    <div class="beat">
      {stream !== null && <video ref={preview} muted playsInline autoPlay aria-label="What the camera sees" />}
      {mode === "beat" ? (
        <>
          <p class={`now ${last?.action ?? "wait"}`} role="status" aria-live="assertive">
            <span class="what">{last === null ? "wait" : last.action}</span>
            <span class="who">{last === null ? "Leave everything as it is" : nameOf(last.load)}</span>
          </p>
          <p class="then">
            {at.next === null ? "Then done" : `Then ${nameOf(at.next.load)} ${at.next.action}`} in{" "}
            <b>{Math.max(0, Math.ceil(at.inS))}</b> s
          </p>
          <progress max={schedule.totalS} value={Math.min(timeS, schedule.totalS)} aria-label="How far the beat is" />
        </>
      ) : (
        <TapPad
          timeS={timeS}
          loads={loads}
          nameOf={nameOf}
          tapped={tapped}
          onTap={(load, action) => {
            if (zeroMs.current === null) return;
            const markS = Math.round((performance.now() - zeroMs.current) / 10) / 100;
            setTapped([...tapped, { timeS: markS, load, action }]);
          }}
        />
      )}
      <p class="row">
        {mode === "tap" && (
          <button type="button" class="main" disabled={tapped.length === 0} onClick={() => finish(tapped)}>
            Done
          </button>
        )}
        <button type="button" class="second" onClick={() => finish(null)}>
          Cancel
        </button>
      </p>
    </div>
  );
}

interface TapPadProps {
  readonly timeS: number;
  readonly loads: readonly (string | null)[];
  readonly nameOf: (load: string | null) => string;
  readonly tapped: readonly SwitchingMark[];
  readonly onTap: (load: string | null, action: "on" | "off") => void;
}

/** One large button per load: tapped at the moment of switching it. */
function TapPad({ timeS, loads, nameOf, tapped, onTap }: TapPadProps) {
  return (
    <>
      <p>
        Tap a load at the moment you switch it. Leave 10 s of quiet before the first and after the last.{" "}
        <b>{Math.floor(timeS)} s</b>, {tapped.length} taps.
      </p>
      <div class="pads">
        {loads.map((load) => {
          const isOn = tapped.filter((mark) => mark.load === load).at(-1)?.action === "on";
          return (
            <button
              key={load ?? ""}
              type="button"
              class={`pad ${isOn ? "on" : "off"}`}
              aria-pressed={isOn}
              onClick={() => onTap(load, isOn ? "off" : "on")}
            >
              {nameOf(load)}
              <strong>{isOn ? "is on: tap as it goes off" : "tap as it goes on"}</strong>
            </button>
          );
        })}
      </div>
    </>
  );
}
