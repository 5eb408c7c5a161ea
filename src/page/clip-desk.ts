import { blobSha256, InputError } from "../importers/browser.js";
import { lumaOf } from "../importers/video/browser/luma-copy.js";
import type { OpenedClip } from "../importers/video/browser/opened-clip.js";
import { filmFacts } from "../importers/video/film-facts.js";
import { findDial } from "../importers/video/needle-reading.js";
import type { GrayPlane } from "../importers/video/smooth-sampling.js";
import { uprightPlace } from "../importers/video/upright.js";
import { recordingCsv } from "../report/recording-csv.js";
import type { ClipAnswer, ClipRequest } from "./clip-messages.js";
import { type PassingReading, readClip } from "./clip-reading.js";
import { foundMarks } from "./first-dial.js";
import { heardSwitch } from "./heard-switch.js";
import { needleInStill } from "./still-needle.js";

/** Least time between two reports of progress. */
const REPORT_MS = 120;

type OpenRequest = Extract<ClipRequest, { kind: "open" }>;
type StillRequest = Extract<ClipRequest, { kind: "still" }>;
type ReadRequest = Extract<ClipRequest, { kind: "read" }>;
type Answer = (message: ClipAnswer, transfer?: Transferable[]) => void;

/** Works through the requests about one clip in their order, wherever it runs: in a thread, or in the page itself. */
export function clipDesk(
  open: (file: Blob, name: string) => Promise<OpenedClip | null>,
  answer: Answer,
  signal?: AbortSignal,
): (request: ClipRequest) => void {
  let clip: OpenedClip | null = null;
  let opened: OpenRequest | null = null;
  let still: GrayPlane | null = null;
  let before: Promise<unknown> = Promise.resolve();
  const work = async (request: ClipRequest): Promise<void> => {
    if (request.kind === "open") {
      opened = request;
      clip = await open(request.file, request.name);
      signal?.addEventListener("abort", () => clip?.close());
      answer(clip === null ? { kind: "undecodable" } : { kind: "opened", durationS: clip.durationS });
    } else if (clip === null) return;
    else if (request.kind === "still") still = await show(clip, request, answer);
    else if (request.kind === "frames") await frames(clip, request, answer, signal);
    else if (request.kind === "read") await read(clip, opened!, request, answer, signal);
    else if (still !== null) answer({ kind: "needle", ...needleInStill(still, request.dial) });
  };
  return (request) => {
    before = before
      .then(() => (signal?.aborted === true ? undefined : work(request)))
      .catch((fault: unknown) => {
        if (signal?.aborted === true) return;
        if (fault instanceof InputError) answer({ kind: "refused", sentence: fault.message });
        else answer({ kind: "fault", message: fault instanceof Error ? fault.message : String(fault) });
      });
  };
}

/** A still at a time, or for null the one in which the dial is found best, with what was found in it. */
async function show(from: OpenedClip, request: StillRequest, answer: Answer): Promise<GrayPlane> {
  const found = request.timeS === null ? await findDial(from, request.known) : null;
  const { picture, timeS } = await from.still(request.timeS ?? found?.still?.timeS ?? 0);
  const { width, height } = picture;
  const canvas = new OffscreenCanvas(width, height);
  const pen = canvas.getContext("2d", { willReadFrequently: true })!;
  pen.drawImage(picture, 0, 0);
  const values = new Uint8Array(width * height);
  lumaOf(pen.getImageData(0, 0, width, height).data, 4 * width, { width, height }, values);
  const pivot = found?.pivot == null ? null : uprightPlace(from, found.pivot);
  const told = found?.kind === "found" ? foundMarks(found.pivot, found.marks) : [];
  const marks = told.map((mark) => ({ ...uprightPlace(from, mark), volts: mark.volts }));
  const doubt = found?.kind === "question" ? found.code : null;
  answer({ kind: "still", picture, timeS, pivot, marks, doubt }, [picture]);
  return { values, width, height, stride: width };
}

/** Side of a small picture. */
const SIDE_PX = 240;

async function frames(
  from: OpenedClip,
  { timesS, square }: Extract<ClipRequest, { kind: "frames" }>,
  answer: Answer,
  signal?: AbortSignal,
): Promise<void> {
  const canvas = new OffscreenCanvas(SIDE_PX, SIDE_PX);
  const pen = canvas.getContext("2d")!;
  for await (const { picture, timeS } of from.stills(timesS, signal)) {
    const scale = SIDE_PX / square.side;
    pen.drawImage(picture, -square.x * scale, -square.y * scale, picture.width * scale, picture.height * scale);
    picture.close();
    answer({ kind: "frame", timeS, picture: await canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 }) });
  }
  answer({ kind: "framed" });
}

async function read(
  from: OpenedClip,
  opened: OpenRequest,
  { dial, known }: ReadRequest,
  answer: Answer,
  signal?: AbortSignal,
): Promise<void> {
  let timesS: number[] = [];
  let volts: number[] = [];
  let reportedMs = 0;
  const onReading = (reading: PassingReading): void => {
    if (reading.volts !== null) {
      timesS.push(reading.timeS);
      volts.push(reading.volts);
    }
    const nowMs = performance.now();
    if (nowMs - reportedMs < REPORT_MS) return;
    reportedMs = nowMs;
    answer({ kind: "progress", doneS: reading.timeS, timesS, volts });
    timesS = [];
    volts = [];
  };
  const reading = await readClip(from, { ...known, dial }, onReading, signal);
  // Damaged sound must not cost the readings.
  const sound = await from.sound(signal).catch(() => ({ kind: "undecodable" }) as const);
  const film = {
    name: opened.name,
    sha256: await blobSha256(opened.file),
    facts: filmFacts("the browser's own", reading),
    gainUncertainty: reading.gainUncertainty,
  };
  const heard = sound.kind === "undecodable" ? null : heardSwitch(sound);
  answer({ kind: "read", csv: recordingCsv(reading), film, heard });
}
