import { InputError } from "../../input-error.js";
import type { LumaFrame, PixelArea } from "../frame.js";
import { lumaOf } from "./luma-copy.js";
import type { OpenedClip } from "./opened-clip.js";
import { wholeFileSound } from "./whole-file-sound.js";

/** Time between two frames that is reckoned with until it is seen. Common practice, no source. */
const SHORTEST_STEP_S = 1 / 60;
/** A frame that is shown anew is told within so long after the seek; one that was shown already is not told. */
const TOLD_WITHIN_MS = 250;

/** A clip that only the browser's film element can show: it is sought frame by frame, which is slow but works. */
export async function openFilmElementClip(file: Blob, name: string): Promise<OpenedClip> {
  const address = URL.createObjectURL(file);
  const film = document.createElement("video");
  film.muted = true;
  film.playsInline = true;
  film.preload = "auto";
  film.src = address;
  await new Promise<void>((done, fail) => {
    film.onloadeddata = () => done();
    film.onerror = () =>
      fail(
        new InputError({
          file: name,
          problem: "this browser cannot show this clip",
          remedy: "film in MP4 with H.264, or use another browser",
        }),
      );
  });
  const { videoWidth: width, videoHeight: height } = film;
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d", { willReadFrequently: true })!;
  let shownS = film.currentTime;
  /** Goes to a time; the own time of the frame that is shown then, where the browser tells it. */
  const seek = async (timeS: number): Promise<number> => {
    // A page that is not seen shows no frames.
    await untilSeen();
    const tells = typeof film.requestVideoFrameCallback === "function";
    const told = new Promise<void>((done) => {
      if (!tells) return;
      film.requestVideoFrameCallback((_now, facts) => {
        shownS = facts.mediaTime;
        done();
      });
    });
    const sought = new Promise<void>((done) => {
      film.onseeked = () => done();
    });
    film.currentTime = timeS;
    await sought;
    if (tells) await Promise.race([told, new Promise((done) => setTimeout(done, TOLD_WITHIN_MS))]);
    else shownS = film.currentTime;
    return shownS;
  };
  return {
    width,
    height,
    rotationDeg: 0,
    durationS: Number.isFinite(film.duration) ? film.duration : null,
    frameCount: null,
    async *frames(area: PixelArea | null, signal?: AbortSignal): AsyncGenerator<LumaFrame> {
      const { x, y, width: w, height: h } = area ?? { x: 0, y: 0, width, height };
      canvas.width = w;
      canvas.height = h;
      const luma = new Uint8Array(w * h);
      let last = Number.NEGATIVE_INFINITY;
      let stepS = Number.POSITIVE_INFINITY;
      for (let wanted = 0; wanted < film.duration; ) {
        signal?.throwIfAborted();
        const timeS = await seek(wanted);
        const isNew = timeS > last;
        if (isNew) stepS = Math.max(SHORTEST_STEP_S, Math.min(stepS, timeS - last));
        const reckonedS = Number.isFinite(stepS) ? stepS : SHORTEST_STEP_S;
        // Into the middle of the next frame; where that was none yet, one step on.
        wanted = isNew ? timeS + 1.5 * reckonedS : wanted + reckonedS;
        if (!isNew) continue;
        last = timeS;
        pen.drawImage(film, x, y, w, h, 0, 0, w, h);
        lumaOf(pen.getImageData(0, 0, w, h).data, 4 * w, { width: w, height: h }, luma);
        yield { timeS, width: w, height: h, stride: w, luma };
      }
    },
    async still(wantedS) {
      const timeS = await seek(wantedS);
      return { picture: await createImageBitmap(film), timeS };
    },
    async *stills(timesS, signal) {
      for (const wantedS of [...timesS].sort((a, b) => a - b)) {
        signal?.throwIfAborted();
        const timeS = await seek(Math.min(film.duration, Math.max(0, wantedS)));
        yield { picture: await createImageBitmap(film), timeS };
      }
    },
    sound: () => wholeFileSound(file),
    close() {
      film.removeAttribute("src");
      film.load();
      URL.revokeObjectURL(address);
    },
  };
}

function untilSeen(): Promise<void> {
  if (document.visibilityState === "visible") return Promise.resolve();
  return new Promise((done) => {
    const look = (): void => {
      if (document.visibilityState !== "visible") return;
      document.removeEventListener("visibilitychange", look);
      done();
    };
    document.addEventListener("visibilitychange", look);
  });
}
