import type { RecordPicture } from "../report/pictures.js";
import type { JudgedRecording } from "./analysis-job.js";
import { stillSvg } from "./film-still.js";
import { drawingMeans } from "./film-still-file.js";
import { dipStripSvg } from "./film-strip.js";
import { colourPng } from "./gray-png.js";

/** Wide enough for a page and for a screen. */
const WIDEST_PX = 960;

/** The judged recording with the pictures of its film, which the report then carries; the same for a log. */
export async function withFilmPictures(judged: JudgedRecording): Promise<JudgedRecording> {
  const { film, analysis, given } = judged;
  if (film === null) return judged;
  const { clip, reading } = film;
  const { dial } = reading;
  const pictures = [
    await picture(stillSvg(clip, dial.still, dial), {
      title: `The still at ${dial.still.timeS.toFixed(2)} s with the pivot, the needle and the scale marks as they were found.`,
      alt: `Frame of the film with the dial: pivot, needle and ${dial.marks.length} scale marks drawn on it.`,
    }),
  ];
  const strip = await dipStripSvg(clip, dial, analysis.dips);
  if (strip !== null)
    pictures.push(
      await picture(strip, {
        title:
          "Frames around each dip, one row for each: 0.5 s before it begins, as it begins, 0.2 s and 0.6 s later, and 0.6 s after it ends.",
        alt: `Rows of frames of the dial around ${Math.min(24, analysis.dips.length)} dips.`,
      }),
    );
  const { picturesText } = await import("../report/pictures.js");
  return { ...judged, given: { ...given, picturesText: picturesText(pictures) } };
}

async function picture(svg: string, words: Pick<RecordPicture, "title" | "alt">): Promise<RecordPicture> {
  const { pixelDrawing } = await import("../report/png.js");
  const ownPx = Number(/width="(\d+)"/.exec(svg)?.[1] ?? WIDEST_PX);
  const { width, height, rgba } = await pixelDrawing(svg, {
    ...(await drawingMeans()),
    pixelsPerUnit: Math.min(1, WIDEST_PX / ownPx),
  });
  return { ...words, width, height, png: colourPng(width, height, rgba).toString("base64") };
}
