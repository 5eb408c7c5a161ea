import { spawnSync } from "node:child_process";
import { openClip } from "../../../src/importers/video/node/node-clip.js";

/** Processor seconds of decoding alone: every frame taken as luma and thrown away. */
export async function decodeSeconds(path: string): Promise<number> {
  const clip = await openClip(path);
  const from = process.cpuUsage();
  for await (const _ of clip.frames(null));
  const { user, system } = process.cpuUsage(from);
  return (user + system) / 1e6;
}

/** Processor seconds of `ffmpeg -f null` on the clip; null where there is no ffmpeg. */
export function ffmpegSeconds(path: string): number | null {
  const { stderr, status } = spawnSync("ffmpeg", ["-v", "info", "-benchmark", "-i", path, "-an", "-f", "null", "-"], {
    encoding: "utf8",
  });
  const spent = /utime=([\d.]+)s stime=([\d.]+)s/.exec(stderr ?? "");
  return status === 0 && spent !== null ? Number(spent[1]) + Number(spent[2]) : null;
}
