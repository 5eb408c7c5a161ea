import { sha256 } from "@noble/hashes/sha2";

/** Stands in a text until its seal is known. */
export const BLANK_SEAL = "0".repeat(64);

const encoder = new TextEncoder();

/** SHA-256 in hexadecimal, of bytes or of a text as UTF-8. */
export function sha256Hex(content: Uint8Array | string): string {
  return hexOf(sha256(typeof content === "string" ? encoder.encode(content) : content));
}

/** SHA-256 of a text that comes in pieces. */
export function hashInPieces(): { update(piece: Uint8Array): void; hex(): string } {
  const hash = sha256.create();
  return {
    update: (piece) => {
      hash.update(piece);
    },
    hex: () => hexOf(hash.digest()),
  };
}

/** What precedes a seal in each kind of file. */
export const SEAL_MARKS = {
  json: '"seal": "',
  html: '<meta name="busdip-seal" content="',
  pdf: "<xmpMM:DocumentID>urn:busdip:sha256:",
} as const;

export type SealedKind = keyof typeof SEAL_MARKS;

/**
 * The file with its seal set in: the SHA-256 of all its bytes while the 64 places of the seal itself are zeros.
 *
 * @throws RangeError where the file holds no blank seal behind the mark of its kind.
 */
export function sealed(bytes: Uint8Array, kind: SealedKind): Uint8Array {
  const at = sealPlace(bytes, kind);
  if (at === null || textAt(bytes, at) !== BLANK_SEAL) {
    throw new RangeError(`Cannot seal a file: a blank seal behind ${SEAL_MARKS[kind]} is needed, there is none`);
  }
  const result = Uint8Array.from(bytes);
  result.set(encoder.encode(sha256Hex(bytes)), at);
  return result;
}

/** A seal as it stands in a file, and what it would have to be; null where the file has no place for one. */
export function readSeal(bytes: Uint8Array, kind: SealedKind): { readonly found: string; readonly due: string } | null {
  const at = sealPlace(bytes, kind);
  if (at === null) return null;
  return { found: textAt(bytes, at), due: sha256Hex(withoutSeal(bytes, kind)) };
}

/** The file with the places of its seal filled with zeros. */
export function withoutSeal(bytes: Uint8Array, kind: SealedKind): Uint8Array {
  const at = sealPlace(bytes, kind);
  if (at === null) return bytes;
  const blank = Uint8Array.from(bytes);
  blank.set(encoder.encode(BLANK_SEAL), at);
  return blank;
}

/** Where the 64 places begin; in JSON the last such mark counts, since texts inside may hold others. */
function sealPlace(bytes: Uint8Array, kind: SealedKind): number | null {
  const mark = encoder.encode(SEAL_MARKS[kind]);
  const last = bytes.length - mark.length - BLANK_SEAL.length;
  const [from, to, step] = kind === "json" ? [last, -1, -1] : [0, last + 1, 1];
  for (let at = from; at !== to && at >= 0 && at <= last; at += step) {
    let same = 0;
    while (same < mark.length && bytes[at + same] === mark[same]) same++;
    if (same === mark.length) return at + mark.length;
  }
  return null;
}

function textAt(bytes: Uint8Array, at: number): string {
  return String.fromCharCode(...bytes.subarray(at, at + BLANK_SEAL.length));
}

function hexOf(bytes: Uint8Array): string {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
