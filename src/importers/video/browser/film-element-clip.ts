import { InputError } from "../../input-error.js";
import type { LumaFrame, PixelArea } from "../frame.js";
import { lumaOf } from "./luma-copy.js";
import type { OpenedClip } from "./opened-clip.js";
import { wholeFileSound } from "./whole-file-sound.js";

/** Step of the seeking where the clip does not tell its frames: the usual rate of phones. Common practice, no source. */
const STEP_S = 1 / 30;

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
  const seek = async (timeS: number): Promise<number> => {
    const shown = new Promise<number>((done) => {
      if (typeof film.requestVideoFrameCallback === "function") {
        film.requestVideoFrameCallback((_now, facts) => done(facts.mediaTime));
        // A seek to the frame that is shown already calls nobody back.
        setTimeout(() => done(film.currentTime), 500);
      } else film.onseeked = () => done(film.currentTime);
    });
    film.currentTime = timeS;
    return shown;
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
      for (let wanted = 0; wanted < film.duration; wanted += STEP_S) {
        signal?.throwIfAborted();
        const timeS = await seek(wanted);
        if (timeS <= last) continue;
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
