import { InputError } from "../importers/browser.js";
import { lumaOf } from "../importers/video/browser/luma-copy.js";
import type { OpenedClip } from "../importers/video/browser/opened-clip.js";
import type { GrayPlane } from "../importers/video/smooth-sampling.js";
import type { ClipAnswer, ClipRequest } from "./clip-messages.js";
import { type PassingReading, readClip } from "./clip-reading.js";
import type { DialPointing } from "./dial-pointing.js";
import { likelyPivot, needleInStill } from "./still-needle.js";

/** Least time between two reports of progress. */
const REPORT_MS = 120;

type Answer = (message: ClipAnswer, transfer?: Transferable[]) => void;

/** Works through the requests about one clip in their order, wherever it runs: in a thread, or in the page itself. */
export function clipDesk(
  open: (file: Blob, name: string) => Promise<OpenedClip | null>,
  answer: Answer,
  signal?: AbortSignal,
): (request: ClipRequest) => void {
  let clip: OpenedClip | null = null;
  let still: GrayPlane | null = null;
  let before: Promise<unknown> = Promise.resolve();
  const work = async (request: ClipRequest): Promise<void> => {
    if (request.kind === "open") {
      clip = await open(request.file, request.name);
      signal?.addEventListener("abort", () => clip?.close());
      answer(clip === null ? { kind: "undecodable" } : { kind: "opened", durationS: clip.durationS });
    } else if (clip === null) return;
    else if (request.kind === "still") still = await show(clip, request.timeS, answer);
    else if (request.kind === "read") await read(clip, request.dial, answer, signal);
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

async function show(from: OpenedClip, wantedS: number, answer: Answer): Promise<GrayPlane> {
  const { picture, timeS } = await from.still(wantedS);
  const { width, height } = picture;
  const canvas = new OffscreenCanvas(width, height);
  const pen = canvas.getContext("2d", { willReadFrequently: true })!;
  pen.drawImage(picture, 0, 0);
  const values = new Uint8Array(width * height);
  lumaOf(pen.getImageData(0, 0, width, height).data, 4 * width, { width, height }, values);
  const still = { values, width, height, stride: width };
  answer({ kind: "still", picture, timeS, pivot: likelyPivot(still) }, [picture]);
  return still;
}

async function read(from: OpenedClip, dial: DialPointing, answer: Answer, signal?: AbortSignal): Promise<void> {
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
  const readings = await readClip(from, dial, onReading, signal);
  if (readings.timesS.length < 2) {
    throw new InputError({
      problem: `the needle was seen in ${readings.timesS.length} of ${readings.frameCount} frames`,
      remedy: "check pivot and marks, or film again with the dial larger and steadier",
    });
  }
  const lines = readings.timesS.map(
    (timeS, i) => `${timeS.toFixed(6)},${readings.volts[i]!.toFixed(6)},${readings.uV[i]!.toPrecision(4)}`,
  );
  const facts = [
    `# dial: pivot ${dial.pivot.x} ${dial.pivot.y}, ${dial.marks.map((mark) => `${mark.volts} V at ${mark.x} ${mark.y}`).join(", ")}`,
    `# frames: ${readings.timesS.length} of ${readings.frameCount} read`,
  ];
  answer({ kind: "read", csv: `${[...facts, "time_s,voltage_V,u_V", ...lines].join("\n")}\n`, notes: [] });
}
