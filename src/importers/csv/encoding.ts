import type { LogOptions } from "./log-options.js";

export type Encoding = NonNullable<LogOptions["encoding"]>;

/** How the bytes of a log become text, and why that was concluded. */
export interface EncodingFound {
  readonly encoding: Encoding;
  /** Bytes of the byte-order mark to leave out. */
  readonly markLength: number;
  readonly because: "mark" | "zero-bytes" | "valid" | "not-utf-8" | "told";
}

/** Finds the encoding from the first bytes of a log. */
export function findEncoding(head: Uint8Array, told?: Encoding): EncodingFound {
  const mark = byteOrderMark(head);
  if (told !== undefined) {
    return { encoding: told, markLength: mark?.encoding === told ? mark.markLength : 0, because: "told" };
  }
  if (mark !== null) return mark;
  const zeros = zeroByteParity(head);
  if (zeros !== null) return { encoding: zeros, markLength: 0, because: "zero-bytes" };
  if (isUtf8(head)) return { encoding: "utf-8", markLength: 0, because: "valid" };
  return { encoding: "latin-1", markLength: 0, because: "not-utf-8" };
}

function byteOrderMark(head: Uint8Array): EncodingFound | null {
  if (head[0] === 0xef && head[1] === 0xbb && head[2] === 0xbf) {
    return { encoding: "utf-8", markLength: 3, because: "mark" };
  }
  if (head[0] === 0xff && head[1] === 0xfe) return { encoding: "utf-16le", markLength: 2, because: "mark" };
  if (head[0] === 0xfe && head[1] === 0xff) return { encoding: "utf-16be", markLength: 2, because: "mark" };
  return null;
}

/** Plain text in UTF-16 has a zero in every other byte, always on the same side. */
function zeroByteParity(head: Uint8Array): "utf-16le" | "utf-16be" | null {
  const length = Math.min(head.length, 4096) & ~1;
  if (length < 4) return null;
  let even = 0;
  let odd = 0;
  for (let i = 0; i < length; i += 2) {
    if (head[i] === 0) even += 1;
    if (head[i + 1] === 0) odd += 1;
  }
  const half = length / 2;
  if (odd > 0.7 * half && even < 0.02 * half) return "utf-16le";
  if (even > 0.7 * half && odd < 0.02 * half) return "utf-16be";
  return null;
}

function isUtf8(head: Uint8Array): boolean {
  try {
    // Streaming, so that a character cut by the end of the head is no fault.
    new TextDecoder("utf-8", { fatal: true }).decode(head, { stream: true });
    return true;
  } catch {
    return false;
  }
}

/** A decoder for that encoding; Latin-1 is read as its superset windows-1252. */
export function textDecoder(encoding: Encoding): InstanceType<typeof TextDecoder> {
  return new TextDecoder(encoding === "latin-1" ? "windows-1252" : encoding, { ignoreBOM: true });
}
