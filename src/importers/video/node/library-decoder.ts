import { setImmediate } from "node:timers/promises";
import type { AVLogLevel, AVMediaType, AVPacketSideDataType, AVPixelFormat, AVSeekFlag } from "node-av/constants";
import type { FormatContext, Frame, Stream } from "node-av/lib";
import { InputError } from "../../input-error.js";
import type { ClipSound } from "../audio/clip-sound.js";
import { GrowingSound } from "../audio/growing-sound.js";
import type { LumaFrame, PixelArea } from "../frame.js";
import { damagedClip, type NodeClip, noFrames, noPicture, wholeOr } from "./decoded-clip.js";
import { copyLuma, type LumaLayout, lumaLayout } from "./luma-rows.js";

/** The decoder library, loaded; its native part is an optional package. */
export type DecoderLibrary = typeof import("node-av/lib") & { readonly version: string };

const VIDEO = 0 as AVMediaType;
const AUDIO = 1 as AVMediaType;
const DISPLAY_MATRIX = 5 as AVPacketSideDataType;
const QUIET = -8 as AVLogLevel;
const BACKWARD = 1 as AVSeekFlag;
/** Frames may be stored this much before or after the moment they are shown. */
const REORDERED_S = 0.15;
const NO_STAMP = -(2n ** 63n);
/** A frame whose data the decoder knows to be damaged. */
const CORRUPT_FLAG = 1;
/** Frames between two chances for signals and timers. */
const BREATH = 4;

/** Loads the library; null where it, or its build for this machine, is not installed. */
export async function loadLibrary(): Promise<DecoderLibrary | null> {
  fillInPromiseWithResolvers();
  try {
    const library = await import("node-av/lib");
    library.Log.setLevel(QUIET);
    return { ...library, version: library.getFFmpegInfo().version };
  } catch {
    return null;
  }
}

/** The library needs a function of Node 22 and fails in silence without it. */
function fillInPromiseWithResolvers(): void {
  const maker = Promise as unknown as { withResolvers?: () => unknown };
  maker.withResolvers ??= () => {
    let resolve: unknown;
    let reject: unknown;
    const promise = new Promise((done, fail) => {
      resolve = done;
      reject = fail;
    });
    return { promise, resolve, reject };
  };
}

/** A clip read by the library. @throws InputError where the clip is damaged or has no picture. */
export async function libraryClip(path: string, library: DecoderLibrary): Promise<NodeClip> {
  const format = await openContainer(path, library);
  try {
    const stream = trackOf(format, VIDEO);
    if (stream === null) throw trackOf(format, AUDIO) === null ? damagedClip(path) : noPicture(path);
    const { width, height } = stream.codecpar;
    if (!(width > 0 && height > 0)) throw damagedClip(path);
    const count = Number(stream.nbFrames);
    const durationS = Number(format.duration) / 1e6;
    return {
      width,
      height,
      rotationDeg: uprightTurn(stream.codecpar.getCodedSideData(DISPLAY_MATRIX)),
      durationS: durationS > 0 ? durationS : null,
      frameCount: count > 0 ? count : null,
      decoder: `node-av with FFmpeg ${library.version}`,
      frames: (area, signal, fromS) =>
        lumaFrames({ path, library, area: wholeOr(area, width, height), width, height, signal, fromS }),
      sound: (signal) => wholeSound(path, library, signal),
    };
  } finally {
    await format.closeInput();
  }
}

async function openContainer(path: string, library: DecoderLibrary): Promise<FormatContext> {
  const format = new library.FormatContext();
  if ((await format.openInput(path)) < 0) throw damagedClip(path);
  if ((await format.findStreamInfo(null)) < 0) {
    await format.closeInput();
    throw damagedClip(path);
  }
  return format;
}

function trackOf(format: FormatContext, kind: AVMediaType): Stream | null {
  const index = format.findBestStream(kind);
  return index < 0 ? null : (format.streams[index] ?? null);
}

/** Clockwise turn that stands the picture upright, from a container's display matrix (16.16 fixed point). */
function uprightTurn(matrix: Buffer | null): 0 | 90 | 180 | 270 {
  if (matrix === null || matrix.length < 8) return 0;
  const turnDeg = (Math.atan2(matrix.readInt32LE(4), matrix.readInt32LE(0)) * 180) / Math.PI;
  return ((Math.round(turnDeg / 90) * 90 + 360) % 360) as 0 | 90 | 180 | 270;
}

interface LumaWish {
  readonly path: string;
  readonly library: DecoderLibrary;
  readonly area: PixelArea;
  readonly width: number;
  readonly height: number;
  readonly signal: AbortSignal | undefined;
  readonly fromS: number | undefined;
}

async function* lumaFrames(wish: LumaWish): AsyncGenerator<LumaFrame> {
  const { path, library, area } = wish;
  const luma = new Uint8Array(area.width * area.height);
  let held: HeldLuma | null = null;
  let count = 0;
  try {
    for await (const { frame, timeS } of decodedFrames(path, library, VIDEO, wish.signal, wish.fromS)) {
      if (timeS === null || frame.hasFlags(CORRUPT_FLAG) || frame.decodeErrorFlags !== 0) continue;
      if (wish.fromS !== undefined && timeS < wish.fromS) continue;
      if (frame.width !== wish.width || frame.height !== wish.height)
        throw new InputError({
          file: path,
          problem: `the picture changes its size ${timeS.toFixed(1)} s into the clip`,
          remedy: "film in one piece without changing the camera's settings",
        });
      const layout = lumaLayout(library.avGetPixFmtName(frame.format as AVPixelFormat) ?? "");
      if (layout === null) throw unusualPicture(path);
      if (held?.bytes !== layout.bytes) {
        held?.frame.free();
        held = heldLuma(frame, layout, library);
      }
      // As a gray frame, only its first plane is copied.
      frame.format = held.frame.format;
      if (held.plane === undefined || held.frame.copy(frame) < 0) throw unusualPicture(path);
      copyLuma(held.plane, held.frame.linesize[0]!, layout, area, luma);
      count++;
      yield { timeS, width: area.width, height: area.height, stride: area.width, luma };
    }
  } finally {
    held?.frame.free();
  }
  if (count === 0) throw noFrames(path);
}

/** A gray frame that takes the luma of others, and its plane. */
interface HeldLuma {
  readonly frame: Frame;
  readonly bytes: LumaLayout["bytes"];
  readonly plane: Buffer | undefined;
}

/**
 * Room for the luma of frames like this one. The library wraps the planes of a frame whenever they are asked for, megabytes
 * that make the engine collect its garbage every few frames: asked for once, here, that spares a fifth of a long clip's time.
 */
function heldLuma({ width, height }: Frame, { bytes }: LumaLayout, library: DecoderLibrary): HeldLuma {
  const frame = new library.Frame();
  frame.alloc();
  frame.format = library.avGetPixFmtFromName(bytes === 1 ? "gray" : "gray16le");
  frame.width = width;
  frame.height = height;
  frame.allocBuffer();
  return { frame, bytes, plane: frame.data?.[0] };
}

function unusualPicture(path: string): InputError {
  return new InputError({
    file: path,
    problem: "the clip stores its picture in an unusual way",
    remedy: "film in MP4 with H.264 or HEVC",
  });
}

async function wholeSound(path: string, library: DecoderLibrary, signal?: AbortSignal): Promise<ClipSound | null> {
  let sound: GrowingSound | null = null;
  for await (const { frame, timeS } of decodedFrames(path, library, AUDIO, signal)) {
    sound ??= new GrowingSound(frame.sampleRate);
    const name = library.avGetSampleFmtName(frame.format as Parameters<typeof library.avGetSampleFmtName>[0]) ?? "";
    const piece = oneChannel(frame, name);
    if (piece !== null) sound.add(timeS, piece);
  }
  return sound?.done() ?? null;
}

/** The mean of all channels, full scale 1; null for a sample format that is not known. */
function oneChannel(frame: Frame, format: string): Float32Array | null {
  const planes = frame.extendedData ?? frame.data;
  const kind = /^(flt|s16|s32|dbl)(p?)$/.exec(format);
  if (planes === null || kind === null) return null;
  const planar = kind[2] === "p";
  const { channels, nbSamples } = frame;
  const result = new Float32Array(nbSamples);
  for (let channel = 0; channel < channels; channel++) {
    const bytes = planes[planar ? channel : 0];
    if (bytes === undefined) return null;
    const read = reader(kind[1]!, bytes);
    const [step, first] = planar ? [1, 0] : [channels, channel];
    for (let k = 0; k < nbSamples; k++) result[k]! += read(first + k * step) / channels;
  }
  return result;
}

function reader(kind: string, bytes: Buffer): (index: number) => number {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (kind === "flt") return (index) => view.getFloat32(4 * index, true);
  if (kind === "dbl") return (index) => view.getFloat64(8 * index, true);
  if (kind === "s16") return (index) => view.getInt16(2 * index, true) / 32768;
  return (index) => view.getInt32(4 * index, true) / 2147483648;
}

/** Decodes one track of a clip from its beginning, or from a key frame before `fromS`; the frame is valid until the next is asked for. */
async function* decodedFrames(
  path: string,
  library: DecoderLibrary,
  kind: AVMediaType,
  signal?: AbortSignal,
  fromS?: number,
): AsyncGenerator<{ frame: Frame; timeS: number | null }> {
  const format = await openContainer(path, library);
  const context = new library.CodecContext();
  const packet = new library.Packet();
  const frame = new library.Frame();
  packet.alloc();
  frame.alloc();
  try {
    const stream = trackOf(format, kind);
    if (stream === null) return;
    const decoder = library.Codec.findDecoder(stream.codecpar.codecId);
    if (decoder === null) throw noFrames(path);
    context.allocContext3(decoder);
    context.parametersToContext(stream.codecpar);
    context.pktTimebase = stream.timeBase;
    context.threadCount = 0;
    if ((await context.open2(decoder, null)) < 0) throw noFrames(path);
    const { num, den } = stream.timeBase;
    // Where that fails, decoding begins at the beginning.
    if (fromS !== undefined && fromS > REORDERED_S)
      format.seekFrameSync(stream.index, BigInt(Math.floor(((fromS - REORDERED_S) * den) / num)), BACKWARD);
    let sinceBreath = 0;
    for (let ended = false; !ended; ) {
      ended = format.readFrameSync(packet) < 0;
      if (!ended && packet.streamIndex !== stream.index) {
        packet.unref();
        continue;
      }
      context.sendPacketSync(ended ? null : packet);
      if (!ended) packet.unref();
      while (context.receiveFrameSync(frame) >= 0) {
        const stamp = frame.bestEffortTimestamp;
        yield { frame, timeS: stamp === NO_STAMP ? null : (Number(stamp) * num) / den };
        frame.unref();
      }
      if (++sinceBreath % BREATH === 0) await setImmediate();
      signal?.throwIfAborted();
    }
  } finally {
    frame.free();
    packet.free();
    context.freeContext();
    await format.closeInput();
  }
}
