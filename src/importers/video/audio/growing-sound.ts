import type { ClipSound } from "./clip-sound.js";

/** Puts pieces of sound on one axis by their own stamps; what is missing between them is silence. */
export class GrowingSound {
  private samples = new Float32Array(1 << 16);
  private count = 0;
  private startS = Number.NaN;

  constructor(private readonly sampleRateHz: number) {}

  /** Adds a piece; a stamp that differs from the end of the last piece by less than 2 ms follows it seamlessly. */
  add(timeS: number | null, piece: Float32Array): void {
    if (Number.isNaN(this.startS)) this.startS = timeS ?? 0;
    const wanted = timeS === null ? this.count : Math.round((timeS - this.startS) * this.sampleRateHz);
    const at = Math.abs(wanted - this.count) <= 0.002 * this.sampleRateHz ? this.count : Math.max(0, wanted);
    const end = at + piece.length;
    if (end > this.samples.length) {
      const larger = new Float32Array(Math.max(end, 2 * this.samples.length));
      larger.set(this.samples.subarray(0, this.count));
      this.samples = larger;
    }
    this.samples.set(piece, at);
    this.count = Math.max(this.count, end);
  }

  /** All of it; null where nothing was added. */
  done(): ClipSound | null {
    if (this.count === 0) return null;
    return { sampleRateHz: this.sampleRateHz, startS: this.startS, samples: this.samples.slice(0, this.count) };
  }
}
