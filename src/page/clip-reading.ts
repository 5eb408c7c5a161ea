import { InputError } from "../importers/browser.js";
import type { FrameSource, LumaFrame, PixelArea } from "../importers/video/frame.js";
import { measureNeedle, radialLines } from "../importers/video/needle-line.js";
import {
  type DialFound,
  type DialHints,
  findDial,
  type NeedleReading,
  readNeedle,
} from "../importers/video/needle-reading.js";

/** A needle reading as the strip shows it while the clip is read; the lasting ones are fitted when all frames are seen. */
export interface PassingReading {
  readonly timeS: number;
  /** Null where this frame was only passed by, or the needle not seen in it. */
  readonly volts: number | null;
}

/** Seconds of the clip between two readings for the strip. */
const STRIP_STEP_S = 0.6;

/**
 * Reads the needle in every frame of the clip.
 *
 * @throws InputError where dial or needle are not found in the still that the person confirmed
 */
export async function readClip(
  source: FrameSource,
  hints: DialHints,
  onReading: (reading: PassingReading) => void,
  signal?: AbortSignal,
): Promise<NeedleReading> {
  const found = await findDial(source, hints, signal);
  if (found.kind === "question") throw asInputError(found.instruction);
  return readNeedle(watched(source, found, onReading), found, undefined, signal);
}

/** The instruction has what is wrong before its colon and what to do after it. */
function asInputError(instruction: string): InputError {
  const [problem, remedy] = instruction.replace(/\.$/, "").split(/: (.*)/s);
  return new InputError({ problem: problem ?? instruction, remedy: remedy ?? "choose another still" });
}

/** The same source, told of what passes by. */
function watched(source: FrameSource, found: DialFound, onReading: (reading: PassingReading) => void): FrameSource {
  return {
    width: source.width,
    height: source.height,
    rotationDeg: source.rotationDeg,
    durationS: source.durationS,
    frameCount: source.frameCount,
    async *frames(area: PixelArea | null, signal?: AbortSignal): AsyncGenerator<LumaFrame> {
      let due = Number.NEGATIVE_INFINITY;
      for await (const frame of source.frames(area, signal)) {
        const isDue = frame.timeS >= due;
        if (isDue) due = frame.timeS + STRIP_STEP_S;
        onReading({ timeS: frame.timeS, volts: isDue ? roughVolts(frame, found, area) : null });
        yield frame;
      }
    },
  };
}

function roughVolts(
  frame: LumaFrame,
  { pivot, innerRadiusPx, curve }: DialFound,
  area: PixelArea | null,
): number | null {
  const plane = { width: frame.width, height: frame.height, stride: frame.stride, values: frame.luma };
  const here = { x: pivot.x - (area?.x ?? 0), y: pivot.y - (area?.y ?? 0) };
  const [line] = radialLines(plane, here, innerRadiusPx);
  const needle = line === undefined ? null : measureNeedle(plane, here, line, innerRadiusPx);
  return needle === null ? null : curve.voltsAt(needle.needle.angleRad);
}
