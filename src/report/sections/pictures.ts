import type { RecordData } from "../embedded-data.js";
import { type Markup, markup } from "../markup.js";
import { readPictures } from "../pictures.js";

/** What the film showed: the still with what was found on it, and the frames around the dips. */
export function pictureSection(record: RecordData | undefined): Markup | null {
  const pictures = readPictures(record?.inputs.picturesText ?? "") ?? [];
  if (pictures.length === 0) return null;
  return markup`<section id="film" aria-labelledby="film-h"><h2 id="film-h">What the film showed</h2><div class="body">
${pictures.map(
  ({
    title,
    alt,
    width,
    height,
    png,
  }) => markup`<img src="data:image/png;base64,${png}" width="${width}" height="${height}" alt="${alt}" style="max-width:100%;height:auto">
<p class="aside">${title}</p>
`,
)}</div></section>`;
}
