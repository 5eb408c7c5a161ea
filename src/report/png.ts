import { initWasm, Resvg } from "@resvg/resvg-wasm";
import type { Figure } from "./figures/figure.js";
import { svgFigure } from "./figures/svg-figure.js";
import type { PdfFonts } from "./pdf-flow.js";
import { unpackedFont } from "./pdf-font.js";

/** What a picture of pixels needs beside the figure. */
export interface PngMeans {
  /** The drawing program, as the bytes of its WebAssembly file. */
  readonly rasterizer: Uint8Array;
  readonly fonts: PdfFonts;
  /** Pixels for one unit of the drawing, which is 736 units wide; 2 unless told. */
  readonly pixelsPerUnit?: number;
}

let ready: Promise<void> | null = null;

/** Draws a figure as a PNG file, with the same fonts as the PDF. */
export async function pngFigure(figure: Figure, means: PngMeans): Promise<Uint8Array> {
  return pngDrawing(svgFigure(figure, { standalone: true }), means);
}

/** Draws an SVG text as a PNG file. */
export async function pngDrawing(svg: string, means: PngMeans): Promise<Uint8Array> {
  return (await rendered(svg, means)).asPng();
}

/** Draws an SVG text as pixels: red, green, blue and opacity, row by row. */
export async function pixelDrawing(
  svg: string,
  means: PngMeans,
): Promise<{ readonly width: number; readonly height: number; readonly rgba: Uint8Array }> {
  const { width, height, pixels } = await rendered(svg, means);
  return { width, height, rgba: pixels };
}

async function rendered(svg: string, means: PngMeans) {
  ready ??= initWasm(means.rasterizer as Parameters<typeof initWasm>[0]);
  await ready;
  const drawing = new Resvg(svg, {
    fitTo: { mode: "zoom", value: means.pixelsPerUnit ?? 2 },
    font: {
      fontBuffers: [unpackedFont(means.fonts.regular), unpackedFont(means.fonts.bold)],
      defaultFontFamily: "DejaVu Sans",
      sansSerifFamily: "DejaVu Sans",
    },
  });
  return drawing.render();
}
