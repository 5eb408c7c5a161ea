import { fromBase64 } from "./embedded-data.js";

/** A picture that a report shows and carries: PNG without transparency, in base64. */
export interface RecordPicture {
  readonly title: string;
  /** The picture in words. */
  readonly alt: string;
  readonly width: number;
  readonly height: number;
  readonly png: string;
}

/** The pictures as the file that a report carries. */
export function picturesText(pictures: readonly RecordPicture[]): string {
  return `${JSON.stringify({ pictures }, null, 1)}\n`;
}

/** The pictures in such a file; null where it is none, or a picture is no PNG. */
export function readPictures(text: string): readonly RecordPicture[] | null {
  try {
    const { pictures } = JSON.parse(text) as { pictures?: unknown };
    return Array.isArray(pictures) && pictures.every(isPicture) ? pictures : null;
  } catch {
    return null;
  }
}

const PNG_HEAD = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];

function isPicture(value: unknown): value is RecordPicture {
  if (typeof value !== "object" || value === null) return false;
  const { title, alt, width, height, png } = value as Record<string, unknown>;
  if (typeof title !== "string" || typeof alt !== "string" || typeof png !== "string") return false;
  if (!Number.isInteger(width) || !Number.isInteger(height)) return false;
  if (!/^[A-Za-z0-9+/]+=*$/.test(png)) return false;
  const head = fromBase64(png.slice(0, 12));
  return PNG_HEAD.every((byte, at) => head[at] === byte);
}
