import { fromBase64, type RecordData } from "./embedded-data.js";
import { MARGIN_PT, type PdfFlow, TEXT } from "./pdf-flow.js";
import { readPictures } from "./pictures.js";

/** A picture takes at most this share of a page's height. */
const MOST_OF_PAGE = 0.62;

/** What the film showed, each picture tagged with its alternative text. */
export function picturePages(flow: PdfFlow, record: RecordData): void {
  const pictures = readPictures(record.inputs.picturesText ?? "") ?? [];
  pictures.forEach(({ title, alt, width, height, png }, index) => {
    const scale = Math.min(flow.widthPt / width, (MOST_OF_PAGE * flow.doc.page.height) / height);
    const [widthPt, heightPt] = [scale * width, scale * height];
    if (index === 0) flow.heading("H2", "What the film showed", heightPt + 50);
    flow.keep(heightPt + 24);
    const element = flow.element("Figure", {
      alt,
      bbox: [MARGIN_PT, flow.y, MARGIN_PT + widthPt, flow.y + heightPt],
    });
    element.add(() => {
      flow.doc.image(fromBase64(png).buffer as ArrayBuffer, MARGIN_PT, flow.y, { width: widthPt, height: heightPt });
    });
    element.end();
    flow.y += heightPt + 3;
    flow.paragraph(title, TEXT.aside, 8);
  });
}
