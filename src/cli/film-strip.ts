import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import type { DialFound } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";
import { uprightGray } from "./film-still.js";
import { grayPng } from "./gray-png.js";
import { readReportFonts } from "./report-fonts.js";

/** Moments shown of each dip, seconds from its beginning, and one after its end. */
const FROM_ONSET_S = [-0.5, 0, 0.2, 0.6];
const AFTER_RELEASE_S = 0.6;
const SIDE_PX = 180;
const MOST_DIPS = 24;

/** A dip to be shown. */
export interface ShownDip {
  readonly onsetS: number;
  readonly releaseS: number | null;
}

/** A picture with one row of frames for each of the first 24 dips, as the bytes of a PNG file; null where there are none. */
export async function dipStripPng(
  clip: NodeClip,
  dial: DialFound,
  dips: readonly ShownDip[],
  signal?: AbortSignal,
): Promise<Uint8Array | null> {
  const shown = dips.slice(0, MOST_DIPS);
  if (shown.length === 0) return null;
  const wantedS = shown.flatMap(({ onsetS, releaseS }) => [
    ...FROM_ONSET_S.map((afterS) => onsetS + afterS),
    ...(releaseS === null ? [] : [releaseS + AFTER_RELEASE_S]),
  ]);
  const pictures = await framesNear(clip, dial, wantedS, signal);
  const cells: string[] = [];
  let index = 0;
  shown.forEach(({ releaseS }, row) => {
    const columns = FROM_ONSET_S.length + (releaseS === null ? 0 : 1);
    for (let column = 0; column < columns; column++, index++) {
      const picture = pictures[index];
      const [x, y] = [column * (SIDE_PX + 6), row * (SIDE_PX + 26)];
      if (picture === undefined || picture === null) continue;
      const image = Buffer.from(grayPng(SIDE_PX, SIDE_PX, picture.gray)).toString("base64");
      cells.push(
        `<image x="${x}" y="${y}" width="${SIDE_PX}" height="${SIDE_PX}" href="data:image/png;base64,${image}"/>`,
        `<text x="${x + 2}" y="${y + SIDE_PX + 16}">${picture.timeS.toFixed(2)} s</text>`,
      );
    }
  });
  const width = (FROM_ONSET_S.length + 1) * (SIDE_PX + 6);
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${shown.length * (SIDE_PX + 26)}" font-family="DejaVu Sans" font-size="13"><rect width="100%" height="100%" fill="#fff"/>${cells.join("")}</svg>`;
  const { pngDrawing } = await import("../report/png.js");
  const rasterizer = await readFile(createRequire(import.meta.url).resolve("@resvg/resvg-wasm/index_bg.wasm"));
  return pngDrawing(svg, { rasterizer, fonts: await readReportFonts(), pixelsPerUnit: 1 });
}

interface SmallPicture {
  readonly timeS: number;
  readonly gray: Uint8Array;
}

/** The dial in the frame nearest each time, upright and small. */
async function framesNear(
  clip: NodeClip,
  dial: DialFound,
  wantedS: readonly number[],
  signal?: AbortSignal,
): Promise<(SmallPicture | null)[]> {
  const reach = Math.round(1.4 * dial.scaleRadiusPx);
  const x = Math.max(0, Math.round(dial.pivot.x) - reach);
  const y = Math.max(0, Math.round(dial.pivot.y) - reach);
  const area = {
    x,
    y,
    width: Math.min(clip.width - x, 2 * reach),
    height: Math.min(clip.height - y, 2 * reach),
  };
  const best: (SmallPicture | null)[] = wantedS.map(() => null);
  for await (const frame of clip.frames(area, signal)) {
    let small: SmallPicture | null = null;
    wantedS.forEach((timeS, index) => {
      const offS = Math.abs(frame.timeS - timeS);
      if (offS > 0.2 || offS >= Math.abs((best[index]?.timeS ?? Number.POSITIVE_INFINITY) - timeS)) return;
      small ??= shrunk(frame.timeS, uprightGray({ ...area, rotationDeg: clip.rotationDeg }, frame));
      best[index] = small;
    });
  }
  return best;
}

/** A square picture of the mean of the pixels that fall into each of its own. */
function shrunk(timeS: number, from: { width: number; height: number; gray: Uint8Array }): SmallPicture {
  const scale = Math.max(from.width, from.height) / SIDE_PX;
  const gray = new Uint8Array(SIDE_PX * SIDE_PX);
  for (let row = 0; row < Math.min(SIDE_PX, Math.floor(from.height / scale)); row++) {
    for (let column = 0; column < Math.min(SIDE_PX, Math.floor(from.width / scale)); column++) {
      let [sum, count] = [0, 0];
      for (let y = Math.floor(row * scale); y < Math.max(Math.floor(row * scale) + 1, (row + 1) * scale); y++) {
        for (
          let x = Math.floor(column * scale);
          x < Math.max(Math.floor(column * scale) + 1, (column + 1) * scale);
          x++
        ) {
          sum += from.gray[Math.min(from.height - 1, y) * from.width + Math.min(from.width - 1, x)]!;
          count++;
        }
      }
      gray[row * SIDE_PX + column] = sum / count;
    }
  }
  return { timeS, gray };
}
