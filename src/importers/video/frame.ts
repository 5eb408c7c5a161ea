/** One frame's luma in coded orientation (never rotated), 8 bit, limited range; row `y` starts at `y * stride`. */
export interface LumaFrame {
  /** Presentation time on the container's clock. */
  readonly timeS: number;
  readonly width: number;
  readonly height: number;
  readonly stride: number;
  readonly luma: Uint8Array;
}

/** A rectangle of whole pixels in coded orientation. */
export interface PixelArea {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** A clip that can be read more than once. */
export interface FrameSource {
  readonly width: number;
  readonly height: number;
  /** Clockwise turn needed to stand the coded picture upright. */
  readonly rotationDeg: 0 | 90 | 180 | 270;
  readonly durationS: number | null;
  readonly frameCount: number | null;
  /**
   * Yields the frames in presentation order, cropped to the area (null = whole picture).
   *
   * The luma array may be reused by the source once the next frame is taken. Frames before `fromS` may be left out.
   */
  frames(area: PixelArea | null, signal?: AbortSignal, fromS?: number): AsyncIterable<LumaFrame>;
}
