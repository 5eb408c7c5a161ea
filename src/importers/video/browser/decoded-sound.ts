import { AudioSampleSink, type InputAudioTrack } from "mediabunny";
import { GrowingSound } from "../audio/growing-sound.js";
import type { SoundOutcome } from "./opened-clip.js";

/** The sound track by the browser's own decoder, all channels as their mean, on the clip's clock. */
export async function decodedSound(track: InputAudioTrack | null, signal?: AbortSignal): Promise<SoundOutcome> {
  if (track === null) return { kind: "silent" };
  if (typeof AudioDecoder !== "function" || !(await track.canDecode())) return { kind: "undecodable" };
  let sound: GrowingSound | null = null;
  for await (const sample of new AudioSampleSink(track).samples()) {
    try {
      signal?.throwIfAborted();
      const { numberOfChannels, numberOfFrames } = sample;
      const mean = new Float32Array(numberOfFrames);
      const one = new Float32Array(numberOfFrames);
      for (let channel = 0; channel < numberOfChannels; channel++) {
        sample.copyTo(one, { planeIndex: channel, format: "f32-planar" });
        for (let k = 0; k < numberOfFrames; k++) mean[k]! += one[k]! / numberOfChannels;
      }
      sound ??= new GrowingSound(sample.sampleRate);
      sound.add(sample.timestamp, mean);
    } finally {
      sample.close();
    }
  }
  const whole = sound?.done() ?? null;
  return whole === null ? { kind: "silent" } : { kind: "heard", sound: whole, clockUncertaintyS: 0 };
}
