import type { FrameSource } from "../frame.js";

/** A clip open in a browser. */
export interface OpenedClip extends FrameSource {
  /** The picture at a time, upright, as the eye sees it. */
  still(timeS: number): Promise<{ readonly picture: ImageBitmap; readonly timeS: number }>;
  close(): void;
}
