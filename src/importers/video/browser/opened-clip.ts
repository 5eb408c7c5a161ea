import type { ClipSound } from "../audio/clip-sound.js";
import type { FrameSource } from "../frame.js";

/** A clip open in a browser. */
export interface OpenedClip extends FrameSource {
  /** The picture at a time, upright, as the eye sees it. */
  still(timeS: number): Promise<ClipStill>;
  /** The pictures at times, upright, in the order of the times; each with its own time. */
  stills(timesS: readonly number[], signal?: AbortSignal): AsyncGenerator<ClipStill>;
  sound(signal?: AbortSignal): Promise<SoundOutcome>;
  close(): void;
}

/** A picture of a clip. */
export interface ClipStill {
  readonly picture: ImageBitmap;
  readonly timeS: number;
}

/** What could be had of a clip's sound; `undecodable` where the browser cannot decode it there. */
export type SoundOutcome =
  | {
      readonly kind: "heard";
      readonly sound: ClipSound;
      /** Standard uncertainty of the sound's clock against the picture's, seconds. */
      readonly clockUncertaintyS: number;
    }
  | { readonly kind: "silent" }
  | { readonly kind: "undecodable" };
