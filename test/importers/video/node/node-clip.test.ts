import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import type { FootagePlan } from "../../../../samples/footage/footage-plan.js";
import { clipImporter } from "../../../../src/importers/video/node/clip-container.js";
import { loadLibrary } from "../../../../src/importers/video/node/library-decoder.js";
import { type DecoderName, looksLikeClip, openClip } from "../../../../src/importers/video/node/node-clip.js";
import { findSystemDecoder } from "../../../../src/importers/video/node/system-decoder.js";
import { flatClip, HEIGHT, lumaOf, soundOnly, unevenTicks, WIDTH } from "./flat-clip.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-clips-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const within = (name: string) => join(folder, name);

const library = await loadLibrary();
const decoders: DecoderName[] = (await findSystemDecoder()) === null ? ["library"] : ["library", "system"];

const plain: FootagePlan["container"] = {
  codec: "libx264",
  bitDepth: 8,
  bitsPerS: 1e6,
  extension: "mp4",
  rotationDeg: 0,
};
const containers: readonly [string, FootagePlan["container"], number][] = [
  ["H.264 in MP4", plain, 0],
  ["H.264 in MP4 whose first stamp is 1.5 s", plain, 1.5],
  ["HEVC of 10 bit in MOV, turned", { ...plain, codec: "libx265", bitDepth: 10, extension: "mov", rotationDeg: 90 }, 0],
  ["VP9 in WebM", { ...plain, codec: "libvpx-vp9", extension: "webm" }, 0.007],
  ["H.264 in MKV, on its head", { ...plain, extension: "mkv", rotationDeg: 180 }, 0],
];

describe("openClip()", () => {
  it("without any decoder says in one sentence how to get one", async () => {
    const path = within("head.mp4");
    writeFileSync(path, Buffer.from("\0\0\0\u0018ftypmp42\0\0\0\0mp42isom"));
    await expect(openClip(path, { decoders: [] })).rejects.toThrow(
      `${path}: nothing on this machine can decode a film clip; run npm ci again with optional packages (node-av), or install ffmpeg`,
    );
  });

  it.each([
    ["an empty file", "", "the file is empty; copy the clip again from the phone"],
    ["a few bytes", "\0\0\0\u0018", "the file is too short for a clip; copy the clip again from the phone"],
    [
      "a text log",
      "time_s,voltage_V\n0,24.6\n",
      "the file does not begin like an MP4, MOV, WebM or MKV clip; give a clip as the phone wrote it (MP4, MOV or WebM)",
    ],
    [
      "a photo",
      "\0\0\0\u0018ftypheic\0\0\0\0mif1heic",
      "this is a still picture, not a film clip; give a clip as the phone wrote it (MP4, MOV or WebM)",
    ],
  ])("refuses %s in one sentence", async (_what, content, sentence) => {
    const path = within("wrong.mp4");
    writeFileSync(path, content);
    await expect(openClip(path)).rejects.toThrow(`${path}: ${sentence}`);
  });

  it("names a file that is not there", async () => {
    await expect(openClip(within("none.mp4"))).rejects.toThrow("none.mp4: there is no such file; check the path");
  });

  if (library !== null) libraryTests();
});

function libraryTests(): void {
  it.each(containers)("reads %s at the right presentation times, frame by frame", async (name, container, firstS) => {
    const path = within(`${name.replace(/\W+/g, "-")}.${container.extension}`);
    const ticks = unevenTicks(firstS);
    await flatClip(path, ticks, container);
    for (const decoder of decoders) {
      const clip = await openClip(path, { decoders: [decoder] });
      expect([clip.width, clip.height, clip.rotationDeg]).toEqual([WIDTH, HEIGHT, container.rotationDeg]);
      const seen: { timeS: number; luma: number }[] = [];
      for await (const frame of clip.frames({ x: 100, y: 60, width: 50, height: 40 })) {
        expect([frame.width, frame.height, frame.luma.length >= frame.stride * 40]).toEqual([50, 40, true]);
        seen.push({
          timeS: frame.timeS,
          luma: frame.luma.subarray(0, 2000).reduce((sum, value) => sum + value, 0) / 2000,
        });
      }
      expect(seen.length, decoder).toBe(ticks.length);
      seen.forEach(({ timeS, luma }, index) => {
        expect(Math.abs(timeS - ticks[index]! / 90_000), `${decoder}, frame ${index}`).toBeLessThan(0.001);
        expect(Math.abs(luma - lumaOf(index)), `${decoder}, frame ${index}`).toBeLessThan(4);
      });
    }
  });

  it.each([plain, { ...plain, codec: "libvpx-vp9" as const, extension: "webm" as const }])(
    "puts the sound on the clock of the picture ($extension)",
    async (container) => {
      const path = within(`burst.${container.extension}`);
      await flatClip(path, unevenTicks(0), container, 0.8);
      for (const decoder of decoders) {
        const sound = (await (await openClip(path, { decoders: [decoder] })).sound())!;
        const loud = sound.samples.findIndex((value) => Math.abs(value) > 0.2);
        expect(Math.abs(sound.startS + loud / sound.sampleRateHz - 0.8), decoder).toBeLessThan(0.001);
      }
    },
  );

  it("gives no sound for a silent clip and reads a clip twice alike", async () => {
    const path = within("twice.mp4");
    await flatClip(path, unevenTicks(0, 12), plain);
    const clip = await openClip(path);
    expect(await clip.sound()).toBeNull();
    const times = async () => {
      const result: number[] = [];
      for await (const frame of clip.frames(null)) result.push(frame.timeS);
      return result;
    };
    expect(await times()).toEqual(await times());
  });

  it("stops when it is told to", async () => {
    const path = within("twice.mp4");
    const clip = await openClip(path);
    const stop = new AbortController();
    const read = async () => {
      for await (const _ of clip.frames(null, stop.signal)) stop.abort();
    };
    await expect(read()).rejects.toThrow(/abort/i);
  });

  it("refuses a clip cut short, one of noise, and one without picture, each in one sentence", async () => {
    const whole = within("whole.mp4");
    await flatClip(whole, unevenTicks(0), plain, 0.5);
    const bytes = readFileSync(whole);
    const cut = within("cut.mp4");
    writeFileSync(cut, bytes.subarray(0, bytes.length >> 1));
    const noise = within("noise.mp4");
    writeFileSync(noise, Buffer.concat([bytes.subarray(0, 32), Buffer.alloc(5000, 0x5a)]));
    const heard = within("heard.mp4");
    await soundOnly(whole, heard);
    for (const decoder of decoders) {
      for (const path of [cut, noise]) {
        await expect(openClip(path, { decoders: [decoder] })).rejects.toThrow(
          `${path}: the clip is damaged or cut short; copy it again from the phone, or film again`,
        );
      }
      await expect(openClip(heard, { decoders: [decoder] })).rejects.toThrow(
        `${heard}: there is no picture track in this clip; give the film, not its sound`,
      );
    }
  });

  it("never takes a clip whose frames cannot be decoded for an empty one", async () => {
    const path = within("undecodable.mp4");
    await flatClip(path, unevenTicks(0), plain);
    const bytes = readFileSync(path);
    // The container stays whole; every byte of the coded frames is overwritten.
    bytes.fill(0xff, bytes.indexOf("mdat") + 4, bytes.lastIndexOf("moov") - 4);
    writeFileSync(path, bytes);
    const read = async () => {
      let count = 0;
      for await (const _ of (await openClip(path)).frames(null)) count++;
      if (count > 0) throw new Error("some frames were left");
    };
    await expect(read()).rejects.toThrow(
      /not one frame of this clip could be decoded|the clip is damaged or cut short/,
    );
  });
}

describe("clipImporter.recognize()", () => {
  it("asks for more where a head is too short, and does not take a log for a clip", async () => {
    expect(clipImporter.recognize(Buffer.from("\0\0\0\u0018ft"), "x")).toEqual({ answer: "need-more", byteCount: 12 });
    expect(clipImporter.recognize(Buffer.from("time_s,voltage_V"), "x.mp4").answer).toBe("not-mine");
    expect(await looksLikeClip(within("none.mp4"))).toBe(false);
  });
});
