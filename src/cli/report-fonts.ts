import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import type { PdfFonts } from "../report/pdf-flow.js";

/** The two faces of DejaVu Sans that records are set in. */
export async function readReportFonts(): Promise<PdfFonts> {
  const { resolve } = createRequire(import.meta.url);
  const face = (weight: number) =>
    readFile(resolve(`@fontsource/dejavu-sans/files/dejavu-sans-latin-${weight}-normal.woff`));
  const [regular, bold] = await Promise.all([face(400), face(700)]);
  return { regular: regular!, bold: bold! };
}
