import { encodeClip } from "../../../../samples/footage/clip-encoder.js";
import { type FootagePlan, footagePlan } from "../../../../samples/footage/footage-plan.js";
import { TICKS_PER_S } from "../../../../samples/footage/frame-times.js";

export const WIDTH = 320;
export const HEIGHT = 240;

/** Luma of the flat picture of each frame, so that a frame can be told by what it shows. */
export const lumaOf = (index: number) => 40 + ((index * 37) % 160);

/** Uneven stamps as phones write them: jitter of some milliseconds, one frame missing, one gap of a third of a second. */
export function unevenTicks(firstS: number, count = 40): number[] {
  const ticks: number[] = [];
  for (let k = 0; ticks.length < count; k++) {
    if (k === 7 || (k > 20 && k < 31)) continue;
    ticks.push(Math.round((firstS + k / 30) * TICKS_PER_S + 180 * ((k * 7) % 5) - 360 * (k > 0 ? k % 2 : 0)));
  }
  return ticks;
}

/** Encodes flat frames at these stamps, and a sound that is silent but for one short burst. */
export async function flatClip(
  path: string,
  ticks: readonly number[],
  container: FootagePlan["container"],
  burstS: number | null = null,
): Promise<void> {
  const plan = footagePlan("calm", {
    width: WIDTH,
    height: HEIGHT,
    container,
    sound:
      burstS === null
        ? null
        : {
            clickDb: -6,
            noiseDb: -80,
            noise: "quiet",
            startS: 0,
            codec: container.extension === "webm" ? "libopus" : "aac",
          },
  });
  const sound = burstS === null ? null : new Float32Array(48_000 * 2);
  sound?.fill(0.5, Math.round(burstS! * 48_000), Math.round(burstS! * 48_000) + 96);
  const frames = ticks.map((tick, index) => ({
    ticks: tick,
    luma: new Uint8Array(WIDTH * HEIGHT).fill(lumaOf(index)),
  }));
  await encodeClip(path, plan, frames, sound);
}

/** Copies only the sound of a clip into a new one. */
export async function soundOnly(from: string, to: string): Promise<void> {
  const { AVMEDIA_TYPE_AUDIO } = await import("node-av/constants");
  const { Dictionary, FormatContext, Packet } = await import("node-av/lib");
  const input = new FormatContext();
  await input.openInput(from);
  await input.findStreamInfo(null);
  const sound = input.streams[input.findBestStream(AVMEDIA_TYPE_AUDIO)]!;
  const output = new FormatContext();
  output.allocOutputContext2(null, null, to);
  const track = output.newStream(null);
  sound.codecpar.copy(track.codecpar);
  track.timeBase = sound.timeBase;
  await output.openOutput();
  await output.writeHeader(new Dictionary());
  const packet = new Packet();
  packet.alloc();
  while ((await input.readFrame(packet)) >= 0) {
    if (packet.streamIndex === sound.index) {
      packet.rescaleTs(sound.timeBase, track.timeBase);
      packet.streamIndex = 0;
      await output.interleavedWriteFrame(packet);
    }
    packet.unref();
  }
  await output.writeTrailer();
  await output.closeOutput();
  await input.closeInput();
}
