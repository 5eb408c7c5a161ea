import { findEncoding } from "./encoding.js";

/** First bytes, as Latin-1 characters, of files that people give by mistake. */
const KNOWN: readonly (readonly [start: string, sentence: string])[] = [
  ["PK\x03\x04", "this is a spreadsheet workbook or another zip archive"],
  ["\xd0\xcf\x11\xe0", "this is an old spreadsheet workbook"],
  ["%PDF", "this is a PDF document"],
  ["SQLite format 3", "this is a database"],
  ["\x89PNG", "this is a picture"],
  ["\xff\xd8\xff", "this is a picture"],
];

/** What the bytes are instead of text; null where they are text. */
export function binarySentence(head: Uint8Array): string | null {
  const start = String.fromCharCode(...head.subarray(0, 16));
  const known = KNOWN.find(([bytes]) => start.startsWith(bytes))?.[1];
  if (known !== undefined) return known;
  if (findEncoding(head).encoding.startsWith("utf-16")) return null;
  const piece = head.subarray(0, 4096);
  const strange = piece.filter((byte) => byte < 9 || (byte > 13 && byte < 27)).length;
  return strange > 0.01 * piece.length && !endsInZeros(piece) ? "this is not a text file" : null;
}

/** A logger that loses power leaves zeros at the end of its file. */
function endsInZeros(bytes: Uint8Array): boolean {
  const first = bytes.indexOf(0);
  return (
    first > 16 &&
    bytes.subarray(first).every((byte) => byte === 0) &&
    bytes.subarray(0, first).every((byte) => byte >= 9)
  );
}
