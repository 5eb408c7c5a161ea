/** How a decoder stores luma: bytes per sample, and how many bits to drop to get 8. */
export interface LumaLayout {
  readonly bytes: 1 | 2;
  readonly shift: number;
}

/** Layout of the first plane by the usual name of a pixel format; null where that plane is not luma. */
export function lumaLayout(pixelFormat: string): LumaLayout | null {
  if (/^(yuvj?4\d\dp|yuva4\d\dp|nv12|nv21|nv16|gray)$/.test(pixelFormat)) return { bytes: 1, shift: 0 };
  const planar = /^(?:yuva?4\d\dp|gray)(9|10|12|14|16)le$/.exec(pixelFormat);
  if (planar !== null) return { bytes: 2, shift: Number(planar[1]) - 8 };
  return /^p[024]1[026]le$/.test(pixelFormat) ? { bytes: 2, shift: 8 } : null;
}

/** Copies an area of a luma plane whose rows are `lineBytes` long into rows without padding. */
export function copyLuma(
  plane: Uint8Array,
  lineBytes: number,
  layout: LumaLayout,
  area: { readonly x: number; readonly y: number; readonly width: number; readonly height: number },
  into: Uint8Array,
): void {
  const { x, y, width, height } = area;
  for (let row = 0; row < height; row++) {
    const from = (y + row) * lineBytes + x * layout.bytes;
    const to = row * width;
    if (layout.bytes === 1) into.set(plane.subarray(from, from + width), to);
    else {
      for (let k = 0; k < width; k++)
        into[to + k] = (plane[from + 2 * k]! | (plane[from + 2 * k + 1]! << 8)) >> layout.shift;
    }
  }
}
