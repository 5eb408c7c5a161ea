import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { formatPlain } from "../report/number-format.js";
import { type ClipLine, clipLine } from "./clip-line.js";
import type { ClipAnswer, FoundNeedle } from "./clip-messages.js";
import { DialBoard, type Handle, placeOf } from "./dial-board.js";
import { DialFile } from "./dial-file.js";
import { dialFrame, type StillFrame, wholeFrame } from "./dial-frame.js";
import type { DialPointing } from "./dial-pointing.js";
import { dialProblem, isFarBeyond } from "./dial-volts.js";
import { firstDial } from "./first-dial.js";
import { knownMeter } from "./known-meter.js";
import { MarkVolts } from "./mark-volts.js";
import { inPageWords } from "./page-words.js";
import { draftOf } from "./profile-draft.js";
import { ReadingStrip } from "./reading-strip.js";
import { AskedWay } from "./scale-rises.js";
import { goTo } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { type KeptFile, withDraft, withInput } from "./work.js";
import { useWork, type WorkStore } from "./work-store.js";

interface Strip {
  readonly doneS: number;
  readonly timesS: number[];
  readonly volts: number[];
}

/** From a clip to readings: the dial is confirmed on a still, then every frame is read. */
export function ClipScreen({ store }: ScreenProps) {
  const { kind, file } = useWork(store);
  if (kind !== "clip" || file === null) {
    return (
      <p>
        There is no clip yet. <a href="#start">To the start</a>
      </p>
    );
  }
  return <Clip key={file.id} store={store} file={file} />;
}

function Clip({ store, file }: { readonly store: WorkStore; readonly file: KeptFile }) {
  const work = useWork(store);
  const [durationS, setDurationS] = useState<number | null>(null);
  const [picture, setPicture] = useState<string | null>(null);
  const [needle, setNeedle] = useState<FoundNeedle | null>(null);
  const [needleDoubt, setNeedleDoubt] = useState<string | null>(null);
  const [dial, setDial] = useState<DialPointing | null>(work.dial);
  const [frame, setFrame] = useState<"dial" | "whole">("dial");
  const [near, setNear] = useState<StillFrame | null>(null);
  const [fileProblem, setFileProblem] = useState<string | null>(null);
  const [chosen, setChosen] = useState<Handle>("pivot");
  const [stillS, setStillS] = useState(work.dial?.still.timeS ?? 1);
  const [strip, setStrip] = useState<Strip | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [turn, setTurn] = useState(0);
  const thread = useRef<ClipLine | null>(null);
  const known = useMemo(() => knownMeter(work.profileText), [work.profileText]);
  const [isWayAsked, setWayAsked] = useState(false);
  // Keys repeat faster than a slow phone draws: each step starts from the newest dial, drawn or not.
  const newest = useRef(dial);
  const show = (next: DialPointing): void => {
    newest.current = next;
    setDial(next);
  };
  /** The dial as it was found, before anything was moved. */
  const found = useRef<DialPointing | null>(null);
  /** The dial that the clip is being read with; null while it is not. */
  const reading = useRef<DialPointing | null>(null);
  const askStill = (timeS: number | null): void => thread.current?.ask({ kind: "still", timeS, known });
  const cancel = (): void => {
    reading.current = null;
    // At once: progress that is under way would bring the strip back.
    thread.current?.close();
    setStrip(null);
    setTurn((now) => now + 1);
  };
  useEffect(() => {
    const next = work.dial ?? found.current;
    if (next === newest.current) return;
    // Taken back: so is a reading that has begun with the other dial, and the still that it was pointed out on.
    if (reading.current !== null) cancel();
    if (next === null) newest.current = null;
    else show(next);
    if (next?.still.timeS !== stillS) askStill(next?.still.timeS ?? null);
  }, [work.dial]);
  useEffect(() => {
    if (work.dial !== null) return;
    // More is known of the meter: the scale may be found now.
    newest.current = null;
    askStill(null);
  }, [known]);
  useEffect(() => () => (picture === null ? undefined : URL.revokeObjectURL(picture)), [picture]);

  const hear = (answer: ClipAnswer): void => {
    switch (answer.kind) {
      case "opened":
        setDurationS(answer.durationS);
        return;
      case "undecodable":
      case "frame":
      case "framed":
        return;
      case "still": {
        const { timeS, picture: bitmap, pivot, marks, doubt } = answer;
        // Read before the bitmap is let go, which takes its size away.
        const still = { timeS, width: bitmap.width, height: bitmap.height };
        setStillS(timeS);
        void asPicture(bitmap).then(setPicture);
        if (newest.current === null && pivot === null) setFrame("whole");
        if (newest.current === null) {
          found.current = firstDial(still, pivot, marks, known);
          setWayAsked(doubt === "no-direction");
        }
        const shown = { ...(newest.current ?? found.current!), still };
        show(shown);
        setNear(dialFrame(shown));
        return;
      }
      case "needle":
        setNeedle(answer.needle);
        setNeedleDoubt(answer.why);
        return;
      case "progress":
        setStrip((now) => ({
          doneS: answer.doneS,
          timesS: [...(now?.timesS ?? []), ...answer.timesS],
          volts: [...(now?.volts ?? []), ...answer.volts],
        }));
        return;
      case "read":
        void keepReadings(answer);
        return;
      case "refused":
        setStrip(null);
        setProblem(`${inPageWords(answer.sentence)}.`);
        return;
      case "fault":
        setStrip(null);
        setProblem(`This is the page's own fault (${answer.message}); reload it and try again.`);
    }
  };
  const hearNow = useRef(hear);
  hearNow.current = hear;

  const keepReadings = async ({ csv, film, heard }: Extract<ClipAnswer, { kind: "read" }>): Promise<void> => {
    const readWith = reading.current;
    if (readWith === null) return;
    const name = `${file.name.replace(/\.[^.]*$/, "")}.csv`;
    const clipReadings = await store.keepFile(new Blob([csv], { type: "text/csv" }), name);
    if (reading.current !== readWith) return;
    reading.current = null;
    store.change((now) => withInput(now, { clipReadings, dial: readWith, film: { ...film, heard: heard! } }));
    goTo("recording");
  };

  useEffect(() => {
    const clip = clipLine((answer) => hearNow.current(answer));
    thread.current = clip;
    void store.file(file).then((blob) => {
      if (blob === undefined) setProblem("The clip is no longer on this device; choose it again.");
      else {
        clip.ask({ kind: "open", file: blob, name: file.name });
        clip.ask({ kind: "still", timeS: newest.current?.still.timeS ?? null, known });
      }
    });
    return () => clip.close();
  }, [turn, store]);

  const wrong = dial === null ? null : dialProblem(dial);
  useEffect(() => {
    if (dial === null || wrong !== null || picture === null) {
      setNeedle(null);
      return;
    }
    const timer = setTimeout(() => thread.current?.ask({ kind: "needle", dial }), 60);
    return () => clearTimeout(timer);
  }, [dial, wrong, picture]);

  const keep = (next: DialPointing, name: string | null = null): void => {
    show(next);
    store.change((now) => withInput(now, { dial: next, clipReadings: null, film: null }), name);
  };
  if (strip !== null) return <ReadingStrip {...strip} durationS={durationS} onCancel={cancel} />;
  return (
    <>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem} <a href="#start">Choose another file</a>
        </p>
      )}
      {problem === null && (dial === null || picture === null) && <p role="status">Opening the clip ...</p>}
      {dial !== null && picture !== null && (
        <>
          <p>
            Drag the blue cross onto the needle's pivot and each yellow cross onto its mark of the scale. Arrow keys
            move the chosen one.
          </p>
          {isWayAsked && work.dial === null && (
            <AskedWay draft={draftOf(work.profileText)} onChange={(step) => store.change(withDraft(step))} />
          )}
          <DialBoard
            picture={picture}
            dial={dial}
            frame={frame === "whole" || near === null ? wholeFrame(dial) : near}
            needle={needle}
            chosen={chosen}
            onChoose={setChosen}
            onMove={(handle, to, move) => {
              const from = newest.current!;
              const next = moved(from, handle, to(placeOf(from, handle)));
              if (move === "on-the-way") show(next);
              else keep(next, move === "key" ? `keys at ${handle}` : null);
            }}
          >
            <p class="shows" role="status">
              {wrong ?? needleText(needle, needleDoubt)}
            </p>
            {wrong === null && needle !== null && (
              <p class="aside">
                {isFarBeyond(dial, needle.volts)
                  ? "That is far beyond the marks: move each onto its stroke, and add one between where the scale turns more than half round."
                  : "Does it agree with what you read? Its uncertainty is found when the clip is read."}
              </p>
            )}
          </DialBoard>
          <p class="row">
            <button type="button" class="second" onClick={() => setFrame(frame === "dial" ? "whole" : "dial")}>
              {frame === "dial" ? "Show the whole picture" : "Show the dial only"}
            </button>
          </p>
          <MarkVolts
            dial={dial}
            chosen={chosen}
            onChoose={setChosen}
            onChange={(step) => keep(step(newest.current!))}
          />
          <label>
            Still at {stillS.toFixed(1)} s
            <input
              type="range"
              min={0}
              max={durationS ?? 60}
              step={0.1}
              value={stillS}
              onChange={(event) => askStill(event.currentTarget.valueAsNumber)}
            />
          </label>
          <DialFile
            dial={dial}
            onProblem={setFileProblem}
            onTake={(next) => {
              setNear(dialFrame(next));
              setFrame("dial");
              keep(next);
              askStill(next.still.timeS);
            }}
          />
          {fileProblem !== null && (
            <p class="problem" role="alert">
              {fileProblem}
            </p>
          )}
          <div class="decide">
            <button
              type="button"
              class="main"
              disabled={wrong !== null || needle === null}
              onClick={() => {
                reading.current = newest.current;
                setStrip({ doneS: 0, timesS: [], volts: [] });
                thread.current?.ask({ kind: "read", dial: newest.current!, known });
              }}
            >
              Read the clip
            </button>
          </div>
        </>
      )}
    </>
  );
}

function needleText(needle: FoundNeedle | null, doubt: string | null): string {
  if (needle === null) return doubt ?? "Looking for the needle ...";
  return `The needle shows ${formatPlain(needle.volts, "V", { digits: 3 })} here, roughly.`;
}

function moved(dial: DialPointing, handle: Handle, place: { readonly x: number; readonly y: number }): DialPointing {
  if (handle === "pivot") return { ...dial, pivot: place };
  return { ...dial, marks: dial.marks.map((mark, i) => (i === handle ? { ...mark, ...place } : mark)) };
}

async function asPicture(bitmap: ImageBitmap): Promise<string> {
  const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
  canvas.getContext("2d")!.drawImage(bitmap, 0, 0);
  bitmap.close();
  return URL.createObjectURL(await canvas.convertToBlob({ type: "image/jpeg", quality: 0.9 }));
}
