import { InputError } from "../../input-error.js";
import type { ClipSound } from "../audio/clip-sound.js";
import type { FrameSource, PixelArea } from "../frame.js";

/** A clip on disk: its frames, and its sound on the same clock. */
export interface NodeClip extends FrameSource {
  /** What decodes it, with its version, for the record. */
  readonly decoder: string;
  /** The whole sound as one channel; null where the clip has none. */
  sound(signal?: AbortSignal): Promise<ClipSound | null>;
}

/** The clip's container holds no picture. */
export function noPicture(path: string): InputError {
  return new InputError({
    file: path,
    problem: "there is no picture track in this clip",
    remedy: "give the film, not its sound",
  });
}

/** The clip ends before its index or is otherwise not readable. */
export function damagedClip(path: string): InputError {
  return new InputError({
    file: path,
    problem: "the clip is damaged or cut short",
    remedy: "copy it again from the phone, or film again",
  });
}

/** Nothing could be decoded although the container is whole. */
export function noFrames(path: string): InputError {
  return new InputError({
    file: path,
    problem: "not one frame of this clip could be decoded",
    remedy: "copy it again from the phone, or film in MP4 with H.264",
  });
}

/** The area of a frame, or the whole. @throws RangeError where it leaves the picture. */
export function wholeOr(area: PixelArea | null, width: number, height: number): PixelArea {
  if (area === null) return { x: 0, y: 0, width, height };
  if (
    area.x < 0 ||
    area.y < 0 ||
    area.width < 1 ||
    area.height < 1 ||
    area.x + area.width > width ||
    area.y + area.height > height
  )
    throw new RangeError(
      `the area must lie in the picture of ${width} x ${height} pixels, got ${area.width} x ${area.height} at (${area.x}, ${area.y})`,
    );
  return area;
}
