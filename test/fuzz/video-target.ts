import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { FootagePlan } from "../../samples/footage/footage-plan.js";
import { openClip } from "../../src/importers/video/node/node-clip.js";
import { flatClip, soundOnly, unevenTicks } from "../importers/video/node/flat-clip.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { checkFinite, Find } from "./oracle.js";

const MOST_FRAMES = 60;
const small = { bitDepth: 8, bitsPerS: 2e5, rotationDeg: 0 } as const;
const CONTAINERS: readonly FootagePlan["container"][] = [
  { ...small, codec: "libx264", extension: "mp4" },
  { ...small, codec: "libx265", extension: "mov", rotationDeg: 90 },
  { ...small, codec: "libvpx-vp9", extension: "webm" },
];

/** Opens a clip, takes some frames and all of its sound; what it saw. */
export async function watchClip(path: string): Promise<string> {
  const clip = await openClip(path);
  const { width, height, rotationDeg, durationS, frameCount } = clip;
  checkFinite({ width, height, rotationDeg, durationS, frameCount });
  if (![0, 90, 180, 270].includes(rotationDeg)) throw new Find(`the picture is turned by ${rotationDeg} degrees`);
  let count = 0;
  for await (const frame of clip.frames(null)) {
    checkFinite(frame.timeS);
    if (frame.luma.length !== width * height) throw new Find(`a frame has ${frame.luma.length} pixels`);
    if (++count === MOST_FRAMES) break;
  }
  const sound = await clip.sound();
  checkFinite(sound);
  return `${count > 0 ? "frames" : "no frame"}, turned ${rotationDeg}, ${sound === null ? "silent" : "sound"}`;
}

async function smallClips(): Promise<Uint8Array[]> {
  const folder = mkdtempSync(join(tmpdir(), "busdip-fuzz-clips-"));
  const clips: Uint8Array[] = [];
  try {
    for (const container of CONTAINERS) {
      for (const burstS of [null, 0.5]) {
        const path = join(folder, `clip.${container.extension}`);
        await flatClip(path, unevenTicks(0.5, 12), container, burstS);
        clips.push(readFileSync(path));
        if (burstS === null || container.extension !== "mp4") continue;
        await soundOnly(path, join(folder, "sound.mp4"));
        clips.push(readFileSync(join(folder, "sound.mp4")));
      }
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  return clips;
}

export const videoTarget: FuzzTarget = {
  name: "video",
  words: [
    ...["ftyp", "moov", "trak", "mdia", "mvhd", "tkhd", "mdhd", "hdlr", "vide", "soun", "stsd", "stts", "ctts", "stsz"],
    ...[
      "stco",
      "co64",
      "stsc",
      "elst",
      "edts",
      "avc1",
      "hvc1",
      "mp4a",
      "mdat",
      "free",
      "moof",
      "traf",
      "trun",
      "\u0000",
    ],
  ],
  seeds: smallClips,
  onDisk: true,
  largestBytes: 300_000,
  longestS: 10,
  run: (_input, path) => watchClip(path),
};
