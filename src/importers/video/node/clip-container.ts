import type { Importer, Recognition } from "../../importer.js";

/** Kinds of box that open an MP4 or MOV file. */
const FIRST_BOXES = new Set(["ftyp", "moov", "mdat", "wide", "free", "skip", "pnot"]);
const HEAD_BYTES = 12;

/** Recognises film clips (MP4, MOV, WebM, MKV) by their first bytes; the name does not count. */
export const clipImporter: Importer = {
  kind: "film clip",
  recognize(head: Uint8Array): Recognition {
    if (head.length === 0) return { answer: "not-mine", sentence: "the file is empty" };
    if (head.length < HEAD_BYTES) return { answer: "need-more", byteCount: HEAD_BYTES };
    if (startsWith(head, [0x1a, 0x45, 0xdf, 0xa3])) return { answer: "mine" };
    const box = String.fromCharCode(...head.subarray(4, 8));
    if (FIRST_BOXES.has(box)) {
      const brand = box === "ftyp" ? String.fromCharCode(...head.subarray(8, 12)) : "";
      if (/^(heic|heix|mif1|avif)$/.test(brand))
        return { answer: "unsupported", sentence: "this is a still picture, not a film clip" };
      return { answer: "mine" };
    }
    if (startsWith(head, [0x52, 0x49, 0x46, 0x46]) && String.fromCharCode(...head.subarray(8, 12)) === "AVI ")
      return { answer: "unsupported", sentence: "AVI clips do not tell when each frame was taken; film in MP4 or MOV" };
    return { answer: "not-mine", sentence: "the file does not begin like an MP4, MOV, WebM or MKV clip" };
  },
};

function startsWith(head: Uint8Array, bytes: readonly number[]): boolean {
  return bytes.every((byte, index) => head[index] === byte);
}
