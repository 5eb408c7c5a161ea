import { openFilmElementClip } from "../importers/video/browser/film-element-clip.js";
import type { ClipAnswer, ClipRequest } from "./clip-messages.js";

/** Asks about a clip; `close` ends everything at once, and nothing is answered after it. */
export interface ClipLine {
  ask(request: ClipRequest): void;
  close(): void;
}

/**
 * A line to the thread that reads the clip. Where the browser has no decoder for it the page itself reads it through a
 * film element, which threads do not have; requests asked so far are asked again there.
 */
export function clipLine(onAnswer: (answer: ClipAnswer) => void): ClipLine {
  const asked: ClipRequest[] = [];
  const stop = new AbortController();
  let inPage: ((request: ClipRequest) => void) | null = null;
  const thread = new Worker(new URL("./clip-worker.ts", import.meta.url), { type: "module" });
  const goOnInPage = async (): Promise<void> => {
    thread.terminate();
    const { clipDesk } = await import("./clip-desk.js");
    inPage = clipDesk(openFilmElementClip, hear, stop.signal);
    for (const request of asked) inPage(request);
  };
  /** Some browsers decode pictures in threads, and sound in the page only. */
  const hearInPage = async (read: Extract<ClipAnswer, { kind: "read" }>): Promise<void> => {
    const opened = asked.find((request) => request.kind === "open");
    const [{ wholeFileSound }, { heardSwitch }] = await Promise.all([
      import("../importers/video/browser/whole-file-sound.js"),
      import("./heard-switch.js"),
    ]);
    const sound = opened === undefined ? ({ kind: "undecodable" } as const) : await wholeFileSound(opened.file);
    if (!stop.signal.aborted) onAnswer({ ...read, heard: heardSwitch(sound) });
  };
  const hear = (answer: ClipAnswer): void => {
    if (stop.signal.aborted) return;
    if (answer.kind === "read" && answer.heard === null) void hearInPage(answer);
    else onAnswer(answer);
  };
  thread.onmessage = ({ data }: MessageEvent<ClipAnswer>) => {
    if (data.kind === "undecodable" && !stop.signal.aborted) void goOnInPage();
    else hear(data);
  };
  thread.onerror = (event) => {
    event.preventDefault();
    hear({ kind: "fault", message: event.message || "the thread that reads clips could not be started" });
  };
  return {
    ask(request) {
      if (inPage !== null) inPage(request);
      else {
        asked.push(request);
        thread.postMessage(request);
      }
    },
    close() {
      stop.abort();
      thread.terminate();
    },
  };
}
