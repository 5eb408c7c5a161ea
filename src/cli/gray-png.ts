import { crc32, deflateSync } from "node:zlib";

/**
 * An 8-bit gray picture as a PNG file (W3C PNG specification, second edition, sections 5 and 9), rows without padding.
 */
export function grayPng(width: number, height: number, gray: Uint8Array): Buffer {
  return packedPng(width, height, gray, 1);
}

/** The same in colour and without transparency, from red, green, blue and an opacity that is taken as full. */
export function colourPng(width: number, height: number, rgba: Uint8Array): Buffer {
  const rgb = new Uint8Array(3 * width * height);
  for (let at = 0; at < width * height; at++) rgb.set(rgba.subarray(4 * at, 4 * at + 3), 3 * at);
  return packedPng(width, height, rgb, 3);
}

function packedPng(width: number, height: number, values: Uint8Array, channels: 1 | 3): Buffer {
  const line = channels * width;
  const rows = Buffer.alloc((line + 1) * height);
  for (let row = 0; row < height; row++) {
    const at = row * (line + 1);
    // Differences of neighbours pack better than the values.
    rows[at] = 1;
    for (let x = 0; x < line; x++)
      rows[at + 1 + x] = values[row * line + x]! - (x < channels ? 0 : values[row * line + x - channels]!);
  }
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head[8] = 8;
  head[9] = channels === 3 ? 2 : 0;
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
