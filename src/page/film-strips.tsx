import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { dipMoments, SHOWN_RADII } from "../importers/video/dip-moments.js";
import { namesOf } from "../report/label-text.js";
import { clipLine } from "./clip-line.js";
import type { FoundNeedle, Square } from "./clip-messages.js";
import type { DialPointing } from "./dial-pointing.js";
import type { Judged } from "./judge-messages.js";
import { SeenDial } from "./seen-dial.js";
import type { KeptFile } from "./work.js";
import type { WorkStore } from "./work-store.js";

interface FilmStripsProps {
  readonly judged: Judged;
  readonly store: WorkStore;
  readonly file: KeptFile;
  readonly dial: DialPointing;
}

interface SmallPicture {
  readonly timeS: number;
  readonly address: string;
}

interface Seen {
  readonly still: { readonly address: string; readonly needle: FoundNeedle | null } | null;
  readonly pictures: readonly SmallPicture[];
  /** Null while pictures are still to come. */
  readonly end: string | null;
}

const NOTHING_YET: Seen = { still: null, pictures: [], end: null };

/** What the film shows: the dial as it was read, and the frames around each dip; made when they come into view. */
export function FilmStrips({ judged, store, file, dial }: FilmStripsProps) {
  const host = useRef<HTMLElement>(null);
  const [seen, setSeen] = useState<Seen>(NOTHING_YET);
  const { dips } = judged.analysis;
  const rows = useMemo(() => dipMoments(dips), [dips]);
  const nameOf = useMemo(() => namesOf(judged.analysis.loads), [judged]);
  useEffect(() => {
    const stop = new AbortController();
    setSeen(NOTHING_YET);
    const inView = new IntersectionObserver((entries) => {
      if (!entries.some(({ isIntersecting }) => isIntersecting)) return;
      inView.disconnect();
      show({ store, file, dial, timesS: rows.flat() }, setSeen, stop.signal);
    });
    if (host.current !== null) inView.observe(host.current);
    return () => {
      stop.abort();
      inView.disconnect();
    };
  }, [rows, file.id]);
  return (
    <section ref={host} aria-labelledby="film-h">
      <h2 id="film-h">What the film shows</h2>
      {seen.still !== null && <SeenDial picture={seen.still.address} dial={dial} needle={seen.still.needle} />}
      {rows.map((moments, i) => (
        <figure key={`${moments[0]}`} class="strip">
          <figcaption>{captionOf(dips[i]!, nameOf)}</figcaption>
          {/* biome-ignore lint/a11y/noNoninteractiveTabindex: wider than a phone, it scrolls; by keyboard too */}
          <ol tabIndex={0} aria-label={`Frames: ${captionOf(dips[i]!, nameOf)}`}>
            {moments.map((momentS) => {
              const picture = nearest(seen.pictures, momentS);
              return (
                <li key={momentS}>
                  {picture === null ? (
                    <span class="blank" />
                  ) : (
                    <img src={picture.address} alt={`The dial at ${picture.timeS.toFixed(2)} s`} />
                  )}
                  <span>{(picture?.timeS ?? momentS).toFixed(2)} s</span>
                </li>
              );
            })}
          </ol>
        </figure>
      ))}
      {rows.length === 0 && <p>No dip was found, so there are no frames to show.</p>}
      {rows.length > 0 && seen.end === null && <p role="status">Fetching frames from the clip ...</p>}
      {seen.end !== null && seen.end !== "" && <p class="problem">{seen.end}</p>}
    </section>
  );
}

interface Wanted {
  readonly store: WorkStore;
  readonly file: KeptFile;
  readonly dial: DialPointing;
  readonly timesS: readonly number[];
}

/** Asks the clip for the still and the frames, and tells each as it comes. */
function show(
  { store, file, dial, timesS }: Wanted,
  set: (change: (seen: Seen) => Seen) => void,
  signal: AbortSignal,
): void {
  const addresses: string[] = [];
  const addressOf = (picture: Blob): string => {
    addresses.push(URL.createObjectURL(picture));
    return addresses.at(-1)!;
  };
  const end = (sentence: string) => set((seen) => ({ ...seen, end: sentence }));
  const clip = clipLine((answer) => {
    if (signal.aborted) return;
    if (answer.kind === "still") {
      void asBlob(answer.picture).then((picture) => {
        const address = addressOf(picture);
        set((seen) => ({ ...seen, still: { address, needle: null } }));
        clip.ask({ kind: "needle", dial });
      });
    } else if (answer.kind === "needle") {
      set((seen) => ({ ...seen, still: seen.still === null ? null : { ...seen.still, needle: answer.needle } }));
    } else if (answer.kind === "frame") {
      const address = addressOf(answer.picture);
      set((seen) => ({ ...seen, pictures: [...seen.pictures, { timeS: answer.timeS, address }] }));
    } else if (answer.kind === "framed") end("");
    else if (answer.kind === "refused") end(`${answer.sentence}.`);
    else if (answer.kind === "fault") end(`The frames could not be had (${answer.message}).`);
  });
  signal.addEventListener("abort", () => {
    clip.close();
    for (const address of addresses) URL.revokeObjectURL(address);
  });
  void store.file(file).then((blob) => {
    if (signal.aborted) return;
    if (blob === undefined) {
      end("The clip is no longer on this device, so its frames cannot be shown.");
      return;
    }
    clip.ask({ kind: "open", file: blob, name: file.name });
    clip.ask({ kind: "still", timeS: dial.still.timeS, known: {} });
    clip.ask({ kind: "frames", timesS, square: squareAround(dial) });
  });
}

function squareAround({ still, pivot, marks }: DialPointing): Square {
  const reaches = marks.map((mark) => Math.hypot(mark.x - pivot.x, mark.y - pivot.y));
  const wanted = (2 * SHOWN_RADII * reaches.reduce((sum, one) => sum + one, 0)) / reaches.length;
  const side = Math.min(wanted, still.width, still.height);
  // Inside the picture, though the pivot is then not in the middle.
  const from = (middle: number, length: number) => Math.min(length - side, Math.max(0, middle - side / 2));
  return { x: from(pivot.x, still.width), y: from(pivot.y, still.height), side };
}

/** A frame counts for a moment where it lies within the time between two frames of a slow film. */
const NEAR_S = 0.2;

function nearest(pictures: readonly SmallPicture[], momentS: number): SmallPicture | null {
  let best: SmallPicture | null = null;
  for (const picture of pictures) {
    const offS = Math.abs(picture.timeS - momentS);
    if (offS <= NEAR_S && (best === null || offS < Math.abs(best.timeS - momentS))) best = picture;
  }
  return best;
}

type Dip = Judged["analysis"]["dips"][number];

function captionOf(dip: Dip, nameOf: ReturnType<typeof namesOf>): string {
  return `${dip.load === null ? "A dip" : nameOf(dip.load)}, ${dip.onsetS.toFixed(1)} to ${dip.releaseS.toFixed(1)} s`;
}

async function asBlob(bitmap: ImageBitmap): Promise<Blob> {
  const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
  canvas.getContext("2d")!.drawImage(bitmap, 0, 0);
  bitmap.close();
  return canvas.convertToBlob({ type: "image/jpeg", quality: 0.9 });
}
