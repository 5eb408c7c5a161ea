import { ALL_FORMATS, BlobSource, Input, type InputVideoTrack, type VideoSample, VideoSampleSink } from "mediabunny";
import { InputError } from "../../input-error.js";
import type { LumaFrame, PixelArea } from "../frame.js";
import { decodedSound } from "./decoded-sound.js";
import { LumaCopy } from "./luma-copy.js";
import type { ClipStill, OpenedClip } from "./opened-clip.js";

/**
 * Opens a clip; null where the browser has no decoder for it, so that a film element may be tried.
 *
 * @throws InputError where the file is no clip
 */
export async function openDecodedClip(file: Blob, name: string): Promise<OpenedClip | null> {
  const input = new Input({ source: new BlobSource(file), formats: ALL_FORMATS });
  const track = await input.getPrimaryVideoTrack().catch(() => {
    throw new InputError({
      file: name,
      problem: "this is no film that can be read",
      remedy: "choose an MP4, MOV or WebM clip",
    });
  });
  if (track === null) {
    throw new InputError({
      file: name,
      problem: "there is no picture in this file",
      remedy: "choose a clip with a picture",
    });
  }
  if (typeof VideoDecoder !== "function" || !(await track.canDecode())) {
    input.dispose();
    return null;
  }
  return clipOf(input, track);
}

async function clipOf(input: Input, track: InputVideoTrack): Promise<OpenedClip> {
  const [width, height, rotationDeg, durationS] = await Promise.all([
    track.getCodedWidth(),
    track.getCodedHeight(),
    track.getRotation(),
    track.computeDuration(),
  ]);
  const sink = new VideoSampleSink(track);
  return {
    width,
    height,
    rotationDeg,
    durationS,
    frameCount: null,
    async *frames(area: PixelArea | null, signal?: AbortSignal): AsyncGenerator<LumaFrame> {
      const copy = new LumaCopy();
      for await (const sample of sink.samples()) {
        try {
          signal?.throwIfAborted();
          const frame = sample.toVideoFrame();
          try {
            yield await copy.take(frame, sample.timestamp, area);
          } finally {
            frame.close();
          }
        } finally {
          sample.close();
        }
      }
    },
    async still(timeS) {
      const sample = (await nearestSample(sink, timeS)) ?? (await sink.getSample(await track.getFirstTimestamp()));
      if (sample === null)
        throw new InputError({ problem: "the clip has no picture there", remedy: "choose another moment" });
      return stillOf(sample);
    },
    async *stills(timesS, signal) {
      for await (const sample of sink.samplesAtTimestamps([...timesS].sort((a, b) => a - b))) {
        signal?.throwIfAborted();
        if (sample !== null) yield stillOf(sample);
      }
    },
    sound: async (signal) => decodedSound(await input.getPrimaryAudioTrack(), signal),
    close: () => input.dispose(),
  };
}

/** The sink gives the sample that is shown at a time; the reader of the dial takes the one nearest to it. */
async function nearestSample(sink: VideoSampleSink, timeS: number): Promise<VideoSample | null> {
  const shown = await sink.getSample(timeS);
  if (shown === null) return null;
  const next = await sink.getSample(shown.timestamp + shown.duration + 1e-4);
  if (next === null || next.timestamp - timeS >= timeS - shown.timestamp) {
    next?.close();
    return shown;
  }
  shown.close();
  return next;
}

function stillOf(sample: VideoSample): ClipStill {
  try {
    const canvas = new OffscreenCanvas(sample.displayWidth, sample.displayHeight);
    sample.draw(canvas.getContext("2d")!, 0, 0);
    return { picture: canvas.transferToImageBitmap(), timeS: sample.timestamp };
  } finally {
    sample.close();
  }
}
