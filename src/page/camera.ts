/** The camera while it films; its clip's zero stands at `startedAtMs` of the page's own clock. */
export interface Filming {
  readonly stream: MediaStream;
  readonly startedAtMs: number;
  /** Ends the film and lets the camera go. */
  stop(): Promise<File>;
  cancel(): void;
}

/** The camera at the back, ready to film. @throws Error with one sentence where it may not be used */
export async function openCamera(): Promise<MediaStream> {
  const video = { facingMode: { ideal: "environment" }, width: { ideal: 1920 }, frameRate: { ideal: 30 } };
  const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  const { mediaDevices } = navigator;
  try {
    // The beat gives the times; a microphone that may not be used must not cost the film.
    return await mediaDevices.getUserMedia({ video, audio }).catch(() => mediaDevices.getUserMedia({ video }));
  } catch (fault) {
    const name = fault instanceof DOMException ? fault.name : "";
    throw new Error(
      name === "NotAllowedError"
        ? "The camera may not be used: allow it for this page in the browser, or go on without it."
        : "There is no camera that can be used; go on without it.",
    );
  }
}

const KINDS = ["video/mp4;codecs=avc1.640028", "video/mp4", "video/webm;codecs=vp9", "video/webm"];

/** Starts to film; resolves when the first moment is being kept. */
export async function film(stream: MediaStream): Promise<Filming> {
  const mimeType = KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
  const recorder = new MediaRecorder(stream, {
    ...(mimeType === undefined ? {} : { mimeType }),
    videoBitsPerSecond: 12_000_000,
  });
  const pieces: Blob[] = [];
  recorder.ondataavailable = ({ data }) => pieces.push(data);
  const started = new Promise<number>((done) => {
    recorder.onstart = () => done(performance.now());
  });
  // After the last piece, also where another app took the camera and ended the film so.
  const ended = new Promise<void>((done) => {
    recorder.onstop = () => done();
  });
  recorder.start(1000);
  const startedAtMs = await started;
  const letGo = (): void => {
    for (const track of stream.getTracks()) track.stop();
  };
  return {
    stream,
    startedAtMs,
    async stop() {
      if (recorder.state !== "inactive") recorder.stop();
      await ended;
      letGo();
      const type = recorder.mimeType || "video/webm";
      return new File(pieces, `clip.${type.includes("mp4") ? "mp4" : "webm"}`, { type });
    },
    cancel() {
      if (recorder.state !== "inactive") recorder.stop();
      letGo();
    },
  };
}
