import { type ChildProcess, spawn } from "node:child_process";
import type { ClipSound } from "../audio/clip-sound.js";
import { GrowingSound } from "../audio/growing-sound.js";
import type { LumaFrame, PixelArea } from "../frame.js";
import { damagedClip, type NodeClip, noFrames, noPicture, wholeOr } from "./decoded-clip.js";
import { copyLuma, lumaLayout } from "./luma-rows.js";

/** Version of the system's `ffmpeg`; null where it or `ffprobe` is not there. */
export async function findSystemDecoder(): Promise<string | null> {
  const [decoder, prober] = await Promise.all(
    ["ffmpeg", "ffprobe"].map((program) => output(program, ["-version"]).catch(() => null)),
  );
  return decoder == null || prober == null ? null : (/version (\S+)/.exec(decoder)?.[1] ?? "of unknown version");
}

interface ProbedStream {
  readonly codec_type?: string;
  readonly width?: number;
  readonly height?: number;
  readonly pix_fmt?: string;
  readonly nb_frames?: string;
  readonly sample_rate?: string;
  readonly start_time?: string;
  readonly side_data_list?: readonly { readonly rotation?: number }[];
}

/** A clip read by the system's `ffmpeg`. @throws InputError where the clip is damaged or has no picture. */
export async function systemClip(path: string, version: string): Promise<NodeClip> {
  const text = await output("ffprobe", [
    "-v",
    "quiet",
    "-of",
    "json",
    "-show_streams",
    "-show_format",
    `file:${path}`,
  ]).catch(() => null);
  if (text === null) throw damagedClip(path);
  const probed = JSON.parse(text) as { streams?: ProbedStream[]; format?: { duration?: string } };
  const picture = probed.streams?.find((stream) => stream.codec_type === "video");
  const sound = probed.streams?.find((stream) => stream.codec_type === "audio");
  if (picture === undefined) throw sound === undefined ? damagedClip(path) : noPicture(path);
  const { width = 0, height = 0, pix_fmt: pixelFormat = "" } = picture;
  if (!(width > 0 && height > 0)) throw damagedClip(path);
  const anticlockwise = picture.side_data_list?.find(({ rotation }) => rotation !== undefined)?.rotation ?? 0;
  const durationS = Number(probed.format?.duration);
  const count = Number(picture.nb_frames);
  return {
    width,
    height,
    rotationDeg: ((Math.round(-anticlockwise / 90) * 90 + 720) % 360) as 0 | 90 | 180 | 270,
    durationS: durationS > 0 ? durationS : null,
    frameCount: count > 0 ? count : null,
    decoder: `ffmpeg ${version}`,
    frames: (area, signal) => lumaFrames(path, pixelFormat, wholeOr(area, width, height), signal),
    sound: async (signal) => (sound === undefined ? null : wholeSound(path, sound, signal)),
  };
}

async function* lumaFrames(
  path: string,
  pixelFormat: string,
  area: PixelArea,
  signal?: AbortSignal,
): AsyncGenerator<LumaFrame> {
  const layout = lumaLayout(pixelFormat) ?? { bytes: 1, shift: 0 };
  const filter = `extractplanes=y,crop=${area.width}:${area.height}:${area.x}:${area.y}:exact=1,showinfo=checksum=0`;
  const words = ["-noautorotate", "-copyts", "-i", `file:${path}`, "-map", "0:v:0", "-fps_mode", "passthrough"];
  const child = spawn(
    "ffmpeg",
    [...["-hide_banner", "-nostats", "-nostdin", ...words, "-vf", filter, "-f", "rawvideo", "pipe:1"]],
    { stdio: ["ignore", "pipe", "pipe"] },
  );
  const stamps = frameStamps(child);
  const frameBytes = area.width * area.height * layout.bytes;
  const held = new Uint8Array(frameBytes);
  const luma = new Uint8Array(area.width * area.height);
  let filled = 0;
  let count = 0;
  try {
    for await (const chunk of child.stdout as AsyncIterable<Buffer>) {
      signal?.throwIfAborted();
      for (let from = 0; from < chunk.length; ) {
        const taken = Math.min(frameBytes - filled, chunk.length - from);
        held.set(chunk.subarray(from, from + taken), filled);
        filled += taken;
        from += taken;
        if (filled < frameBytes) break;
        filled = 0;
        copyLuma(held, area.width * layout.bytes, layout, { ...area, x: 0, y: 0 }, luma);
        const timeS = await stamps.next();
        if (timeS === null) continue;
        count++;
        yield { timeS, width: area.width, height: area.height, stride: area.width, luma };
      }
    }
  } finally {
    child.kill("SIGKILL");
  }
  if (count === 0) throw noFrames(path);
}

/** The presentation times that the decoder tells beside its frames, in their order; null where it told none. */
function frameStamps(child: ChildProcess): { next(): Promise<number | null> } {
  const told: number[] = [];
  let perTickS = 0;
  let ended = false;
  let wake = () => {};
  let rest = "";
  child.stderr?.setEncoding("utf8");
  child.stderr?.on("data", (text: string) => {
    const lines = (rest + text).split("\n");
    rest = lines.pop()!;
    for (const line of lines) {
      const base = /config in time_base: (\d+)\/(\d+)/.exec(line);
      if (base !== null) perTickS = Number(base[1]) / Number(base[2]);
      const stamp = /showinfo.* pts: *(-?\d+)/.exec(line);
      if (stamp !== null) told.push(Number(stamp[1]) * perTickS);
    }
    wake();
  });
  child.stderr?.on("end", () => {
    ended = true;
    wake();
  });
  return {
    async next() {
      while (told.length === 0 && !ended)
        await new Promise<void>((go) => {
          wake = go;
        });
      return told.shift() ?? null;
    },
  };
}

async function wholeSound(path: string, stream: ProbedStream, signal?: AbortSignal): Promise<ClipSound | null> {
  const rate = Number(stream.sample_rate) || 48_000;
  const sound = new GrowingSound(rate);
  const words = ["-copyts", "-i", `file:${path}`, "-map", "0:a:0", "-ac", "1", "-ar", `${rate}`, "-af", "ashowinfo"];
  const child = spawn("ffmpeg", ["-hide_banner", "-nostats", "-nostdin", ...words, "-f", "f32le", "pipe:1"], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  const firstStamp = firstSoundStamp(child);
  let rest = Buffer.alloc(0);
  try {
    for await (const chunk of child.stdout as AsyncIterable<Buffer>) {
      signal?.throwIfAborted();
      const bytes = Buffer.concat([rest, chunk]);
      const whole = bytes.length - (bytes.length % 4);
      const piece = Float32Array.from({ length: whole / 4 }, (_, k) => bytes.readFloatLE(4 * k));
      rest = bytes.subarray(whole);
      sound.add(null, piece);
    }
  } finally {
    child.kill("SIGKILL");
  }
  const heard = sound.done();
  return heard === null ? null : { ...heard, startS: (await firstStamp) ?? (Number(stream.start_time) || 0) };
}

/** The stamp of the first sound that is put out: what was only there to prepare the decoder is left out before it. */
function firstSoundStamp(child: ChildProcess): Promise<number | null> {
  return new Promise((done) => {
    let text = "";
    child.stderr?.setEncoding("utf8");
    child.stderr?.on("data", (piece: string) => {
      if (text.length > 1_000_000) return;
      text += piece;
      const stamp = /ashowinfo.* n:0 .*pts_time:(-?[\d.]+)/.exec(text);
      if (stamp !== null) done(Number(stamp[1]));
    });
    child.stderr?.on("end", () => done(null));
  });
}

/** What a program prints. @throws Error where it is not there or fails. */
function output(program: string, words: readonly string[]): Promise<string> {
  return new Promise((done, fail) => {
    const child = spawn(program, words, { stdio: ["ignore", "pipe", "ignore"] });
    const pieces: Buffer[] = [];
    child.stdout.on("data", (piece: Buffer) => pieces.push(piece));
    child.on("error", fail);
    child.on("close", (code) => {
      if (code === 0) done(Buffer.concat(pieces).toString("utf8"));
      else fail(new Error(`${program} ended with ${code}`));
    });
  });
}
