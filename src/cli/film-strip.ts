import { dipMoments, SHOWN_RADII, type ShownDip } from "../importers/video/dip-moments.js";
import type { DialFound } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";
import { uprightGray } from "./film-still.js";
import { grayPng } from "./gray-png.js";

const SIDE_PX = 180;

/** One row of frames for each of the first 24 dips, as SVG; null where there are none. */
export async function dipStripSvg(
  clip: NodeClip,
  dial: DialFound,
  dips: readonly ShownDip[],
  signal?: AbortSignal,
): Promise<string | null> {
  const rows = dipMoments(dips);
  if (rows.length === 0) return null;
  const pictures = await framesNear(clip, dial, rows.flat(), signal);
  const cells: string[] = [];
  let index = 0;
  rows.forEach((moments, row) => {
    for (let column = 0; column < moments.length; column++, index++) {
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
  const width = Math.max(...rows.map((moments) => moments.length)) * (SIDE_PX + 6);
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${rows.length * (SIDE_PX + 26)}" font-family="DejaVu Sans" font-size="13"><rect width="100%" height="100%" fill="#fff"/>${cells.join("")}</svg>`;
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
  const reach = Math.round(SHOWN_RADII * dial.scaleRadiusPx);
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
  const gray = new Uint8Array(SIDE_PX * SIDE_PX).fill(255);
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
