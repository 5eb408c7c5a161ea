/** The sound of a clip as one channel, full scale 1, on the container's clock. */
export interface ClipSound {
  readonly sampleRateHz: number;
  /** Container time of the first sample; may be negative. */
  readonly startS: number;
  readonly samples: Float32Array;
}
