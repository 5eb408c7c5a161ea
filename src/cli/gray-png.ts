import { crc32, deflateSync } from "node:zlib";

/**
 * An 8-bit gray picture as a PNG file (W3C PNG specification, second edition, sections 5 and 9), rows without padding.
 */
export function grayPng(width: number, height: number, gray: Uint8Array): Buffer {
  const rows = Buffer.alloc((width + 1) * height);
  for (let row = 0; row < height; row++) {
    const at = row * (width + 1);
    // Differences of neighbours pack better than the values.
    rows[at] = 1;
    for (let x = 0, left = 0; x < width; x++) {
      const value = gray[row * width + x]!;
      rows[at + 1 + x] = value - left;
      left = value;
    }
  }
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head[8] = 8;
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk("IHDR", head),
    chunk("IDAT", deflateSync(rows, { level: 6 })),
    chunk("IEND", Buffer.alloc(0)),
  ]);
}

function chunk(kind: string, content: Buffer): Buffer {
  const named = Buffer.concat([Buffer.from(kind, "latin1"), content]);
  const framed = Buffer.alloc(named.length + 8);
  framed.writeUInt32BE(content.length, 0);
  named.copy(framed, 4);
  framed.writeUInt32BE(crc32(named), named.length + 4);
  return framed;
}
