import type { SoundOutcome } from "./opened-clip.js";

/** More is not taken into memory at once. */
const MOST_BYTES = 400e6;
const RATE_HZ = 48_000;
/** Where sound decoded as a whole begins, against the picture: up to a packet of lossy coding. Common practice, no source. */
const CLOCK_UNCERTAINTY_S = 0.05;

/** The sound of a clip by the browser's decoder of whole files, which threads do not have; it loses the clip's own stamps. */
export async function wholeFileSound(file: Blob): Promise<SoundOutcome> {
  if (file.size > MOST_BYTES || typeof OfflineAudioContext !== "function") return { kind: "undecodable" };
  try {
    const buffer = await new OfflineAudioContext(1, 1, RATE_HZ).decodeAudioData(await file.arrayBuffer());
    const samples = new Float32Array(buffer.length);
    for (let channel = 0; channel < buffer.numberOfChannels; channel++) {
      const one = buffer.getChannelData(channel);
      for (let k = 0; k < samples.length; k++) samples[k]! += one[k]! / buffer.numberOfChannels;
    }
    const sound = { sampleRateHz: buffer.sampleRate, startS: 0, samples };
    return { kind: "heard", sound, clockUncertaintyS: CLOCK_UNCERTAINTY_S };
  } catch {
    return { kind: "undecodable" };
  }
}
