import { unzlibSync } from "fflate";
import { create, type Font } from "fontkit";

const WOFF = 0x774f4646;
const ENTRY_BYTES = { woff: 20, sfnt: 16 } as const;

/**
 * The font in a file, a WOFF unpacked once: the font library would unpack a table again at every look into it.
 *
 * Source: WOFF File Format 1.0, W3C Recommendation of 13 December 2012, 3 and 4 (from memory).
 * @throws TypeError for a collection of fonts.
 */
export function openFont(bytes: Uint8Array): Font {
  const font = create(unpackedFont(bytes) as Parameters<typeof create>[0]);
  if (!("hasGlyphForCodePoint" in font)) throw new TypeError("Cannot use a collection of fonts: one font is needed");
  return font;
}

/** The font as a plain OpenType file. */
export function unpackedFont(bytes: Uint8Array): Uint8Array {
  const from = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (from.getUint32(0) !== WOFF) return bytes;
  const count = from.getUint16(12);
  const tables = Array.from({ length: count }, (_, i) => {
    const at = 44 + i * ENTRY_BYTES.woff;
    const [tag, offset, packedBytes, size, checkSum] = [0, 4, 8, 12, 16].map((field) => from.getUint32(at + field));
    const stored = bytes.subarray(offset!, offset! + packedBytes!);
    return { tag: tag!, size: size!, checkSum: checkSum!, data: packedBytes! < size! ? unzlibSync(stored) : stored };
  });
  const headBytes = 12 + count * ENTRY_BYTES.sfnt;
  const result = new Uint8Array(tables.reduce((sum, table) => sum + padded(table.size), headBytes));
  const to = new DataView(result.buffer);
  const power = 2 ** Math.floor(Math.log2(count));
  to.setUint32(0, from.getUint32(4));
  to.setUint16(4, count);
  to.setUint16(6, power * 16);
  to.setUint16(8, Math.log2(power));
  to.setUint16(10, (count - power) * 16);
  let offset = headBytes;
  tables.forEach(({ tag, size, checkSum, data }, i) => {
    const at = 12 + i * ENTRY_BYTES.sfnt;
    [tag, checkSum, offset, size].forEach((value, field) => {
      to.setUint32(at + 4 * field, value);
    });
    result.set(data, offset);
    offset += padded(size);
  });
  return result;
}

function padded(size: number): number {
  return Math.ceil(size / 4) * 4;
}
