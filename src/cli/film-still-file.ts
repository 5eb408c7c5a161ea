import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { basename, dirname } from "node:path";
import type { LumaFrame } from "../importers/video/frame.js";
import type { DialFound, DialQuestion } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";
import type { PngMeans } from "../report/png.js";
import { type SeenDial, stillSvg } from "./film-still.js";
import { writeIntoFolder } from "./output-folder.js";
import { readReportFonts } from "./report-fonts.js";

/** The still with the dial as it was found, as the bytes of a PNG file. */
export async function foundStillPng(clip: NodeClip, dial: DialFound): Promise<Uint8Array> {
  return stillPng(clip, dial.still, dial);
}

/** Writes the still with as much as was found; false where the clip gave no still. */
export async function saveUndecidedStill(clip: NodeClip, question: DialQuestion, path: string): Promise<boolean> {
  if (question.still === null) return false;
  const png = await stillPng(clip, question.still, { ...question, marks: [] });
  await writeIntoFolder(dirname(path), new Map([[basename(path), png]]));
  return true;
}

async function stillPng(clip: NodeClip, still: LumaFrame, seen: SeenDial): Promise<Uint8Array> {
  const { pngDrawing } = await import("../report/png.js");
  return pngDrawing(stillSvg(clip, still, seen), { ...(await drawingMeans()), pixelsPerUnit: 1 });
}

/** The drawing program and the fonts. */
export async function drawingMeans(): Promise<Pick<PngMeans, "rasterizer" | "fonts">> {
  const rasterizer = await readFile(createRequire(import.meta.url).resolve("@resvg/resvg-wasm/index_bg.wasm"));
  return { rasterizer, fonts: await readReportFonts() };
}
