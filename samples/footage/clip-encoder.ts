import type {
  AVChannelOrder,
  AVCodecFlag,
  AVLogLevel,
  AVPacketSideDataType,
  AVPictureType,
  AVPixelFormat,
  AVSampleFormat,
} from "node-av/constants";
import type { CodecContext, FormatContext, Frame, Stream } from "node-av/lib";
import type { FootagePlan } from "./footage-plan.js";
import { TICKS_PER_S } from "./frame-times.js";
import { SAMPLE_RATE_HZ } from "./switch-sound.js";

type Library = typeof import("node-av/lib");

const YUV420P = 0 as AVPixelFormat;
const YUV420P10LE = 62 as AVPixelFormat;
const FLTP = 8 as AVSampleFormat;
const NATIVE_ORDER = 1 as AVChannelOrder;
const QUIET = -8 as AVLogLevel;
const KEY = 1 as AVPictureType;
const FLT = 3 as AVSampleFormat;
const GLOBAL_HEADER = (1 << 22) as AVCodecFlag;
const DISPLAY_MATRIX = 5 as AVPacketSideDataType;

/** One frame with its stamp in ticks; asked to be a key frame, and bits a second from here on. */
export interface CodedFrame {
  readonly ticks: number;
  readonly luma: Uint8Array;
  readonly isKey?: boolean;
  readonly bitsPerS?: number;
}

/** Writes a clip: luma frames, and the sound, interleaved by time. */
export async function encodeClip(
  path: string,
  plan: FootagePlan,
  frames: Iterable<CodedFrame>,
  sound: Float32Array | null,
): Promise<void> {
  const library = await import("node-av/lib");
  library.Log.setLevel(QUIET);
  const format = new library.FormatContext();
  check(format.allocOutputContext2(null, null, path), "choose the container");
  const picture = await pictureTrack(library, format, plan);
  const track = sound === null || plan.sound === null ? null : await soundTrack(library, format, plan);
  check(await format.openOutput(), "open the file");
  check(
    await format.writeHeader(library.Dictionary.fromObject({ video_track_timescale: `${TICKS_PER_S}` })),
    "write the header",
  );
  let soundAt = 0;
  const soundUntil = async (timeS: number) => {
    if (track === null || sound === null || plan.sound === null) return;
    const size = track.context.frameSize || 1024;
    while (soundAt + size <= sound.length && plan.sound.startS + soundAt / SAMPLE_RATE_HZ < timeS) {
      const frame = library.Frame.fromAudioBuffer(Buffer.from(sound.slice(soundAt, soundAt + size).buffer), {
        nbSamples: size,
        format: track.context.sampleFormat,
        sampleRate: SAMPLE_RATE_HZ,
        channelLayout: track.context.channelLayout,
        timeBase: { num: 1, den: SAMPLE_RATE_HZ },
        pts: BigInt(soundAt + Math.round(plan.sound.startS * SAMPLE_RATE_HZ)),
      });
      await drain(library, format, track, frame);
      frame.free();
      soundAt += size;
    }
  };
  for (const { ticks, luma, isKey, bitsPerS } of frames) {
    await soundUntil(ticks / TICKS_PER_S);
    if (bitsPerS !== undefined) picture.context.bitRate = BigInt(Math.round(bitsPerS));
    const frame = library.Frame.fromVideoBuffer(paddedPlanes(luma, plan), {
      width: plan.width,
      height: plan.height,
      format: plan.container.bitDepth === 10 ? YUV420P10LE : YUV420P,
      timeBase: { num: 1, den: TICKS_PER_S },
      pts: BigInt(ticks),
    });
    if (isKey === true) frame.pictType = KEY;
    await drain(library, format, picture, frame);
    frame.free();
  }
  await soundUntil(Number.POSITIVE_INFINITY);
  await drain(library, format, picture, null);
  if (track !== null) await drain(library, format, track, null);
  check(await format.writeTrailer(), "finish the file");
  await format.closeOutput();
  picture.context.freeContext();
  track?.context.freeContext();
}

interface Track {
  readonly context: CodecContext;
  readonly stream: Stream;
  /** Of a packet, in the encoder's ticks, where the encoder does not tell it. */
  readonly usualDuration: bigint;
}

async function pictureTrack(library: Library, format: FormatContext, plan: FootagePlan): Promise<Track> {
  const { codec, bitDepth, bitsPerS, mostBitsPerS, rotationDeg } = plan.container;
  const encoder = library.Codec.findEncoderByName(codec as Parameters<typeof library.Codec.findEncoderByName>[0]);
  const context = new library.CodecContext();
  context.allocContext3(encoder);
  context.width = plan.width;
  context.height = plan.height;
  context.pixelFormat = bitDepth === 10 ? YUV420P10LE : YUV420P;
  context.timeBase = new library.Rational(1, TICKS_PER_S);
  context.framerate = new library.Rational(plan.frameRateHz, 1);
  context.gopSize = plan.frameRateHz;
  context.maxBFrames = 0;
  context.bitRate = BigInt(Math.round(bitsPerS));
  context.setFlags(GLOBAL_HEADER);
  const options: Record<string, string> =
    codec === "libvpx-vp9"
      ? { deadline: "realtime", "cpu-used": "8" }
      : codec === "libx265"
        ? { preset: "ultrafast", "x265-params": "log-level=none" }
        : { preset: "veryfast", ...(mostBitsPerS === undefined ? {} : bounded(mostBitsPerS)) };
  check(await context.open2(encoder, library.Dictionary.fromObject(options)), "open the picture's encoder");
  const stream = format.newStream(null);
  stream.timeBase = context.timeBase;
  check(stream.codecpar.fromContext(context), "describe the picture");
  if (rotationDeg !== 0) check(stream.codecpar.addCodedSideData(DISPLAY_MATRIX, displayMatrix(rotationDeg)), "rotate");
  return { context, stream, usualDuration: BigInt(Math.round(TICKS_PER_S / plan.frameRateHz)) };
}

/** Bits a second in any second; without it x264 does not take another rate on its way. */
function bounded(mostBitsPerS: number): Record<string, string> {
  return { maxrate: `${mostBitsPerS}`, bufsize: `${mostBitsPerS}` };
}

async function soundTrack(library: Library, format: FormatContext, plan: FootagePlan): Promise<Track> {
  const codec = plan.sound?.codec ?? "aac";
  const encoder = library.Codec.findEncoderByName(codec as Parameters<typeof library.Codec.findEncoderByName>[0]);
  const context = new library.CodecContext();
  context.allocContext3(encoder);
  context.sampleRate = SAMPLE_RATE_HZ;
  context.sampleFormat = codec === "aac" ? FLTP : FLT;
  context.channelLayout = { nbChannels: 1, order: NATIVE_ORDER, mask: 4n };
  context.timeBase = new library.Rational(1, SAMPLE_RATE_HZ);
  context.bitRate = 96_000n;
  context.setFlags(GLOBAL_HEADER);
  check(await context.open2(encoder, null), "open the sound's encoder");
  const stream = format.newStream(null);
  stream.timeBase = context.timeBase;
  check(stream.codecpar.fromContext(context), "describe the sound");
  return { context, stream, usualDuration: 0n };
}

/** Sends a frame and writes what comes out; null ends the track. */
async function drain(library: Library, format: FormatContext, track: Track, frame: Frame | null): Promise<void> {
  check(await track.context.sendFrame(frame), "encode");
  const packet = new library.Packet();
  packet.alloc();
  while ((await track.context.receivePacket(packet)) >= 0) {
    packet.streamIndex = track.stream.index;
    if (packet.duration === 0n) packet.duration = track.usualDuration;
    packet.rescaleTs(track.context.timeBase, track.stream.timeBase);
    check(await format.interleavedWriteFrame(packet), "write");
    packet.unref();
  }
  packet.free();
}

/** Luma with gray chroma behind it, as 4:2:0 planes of 8 or 10 bit. */
function paddedPlanes(luma: Uint8Array, plan: FootagePlan): Buffer {
  const chroma = 2 * (plan.width >> 1) * (plan.height >> 1);
  if (plan.container.bitDepth === 8) return Buffer.concat([luma, new Uint8Array(chroma).fill(128)]);
  const deep = new Uint16Array(luma.length + chroma).fill(512);
  for (let k = 0; k < luma.length; k++) deep[k] = luma[k]! << 2;
  return Buffer.from(deep.buffer);
}

/** Display matrix (16.16 fixed point) that turns the picture clockwise. */
function displayMatrix(rotationDeg: number): Buffer {
  const [cos, sin] = [
    Math.round(Math.cos((rotationDeg * Math.PI) / 180)),
    Math.round(Math.sin((rotationDeg * Math.PI) / 180)),
  ];
  const matrix = Buffer.alloc(36);
  [cos, sin, 0, -sin, cos, 0].forEach((value, k) => {
    matrix.writeInt32LE(value * 65536, 4 * k);
  });
  matrix.writeInt32LE(1 << 30, 32);
  return matrix;
}

function check(status: number, what: string): void {
  if (status < 0) throw new Error(`Cannot ${what}: the encoder answers ${status}`);
}
