import type { LumaFrame, PixelArea } from "../frame.js";

/** Takes the luma of decoded frames into one buffer, which is used again for the next frame. */
export class LumaCopy {
  #bytes = new Uint8Array(0);
  #luma = new Uint8Array(0);

  /** The frame's luma in coded orientation, cropped; valid until the next is taken. */
  async take(frame: VideoFrame, timeS: number, area: PixelArea | null): Promise<LumaFrame> {
    const visible = frame.visibleRect ?? new DOMRectReadOnly(0, 0, frame.codedWidth, frame.codedHeight);
    const wanted = area ?? { x: 0, y: 0, width: visible.width, height: visible.height };
    return isPlanar(frame.format)
      ? this.#planar(frame, visible, wanted, timeS)
      : this.#coloured(frame, visible, wanted, timeS);
  }

  /** The first plane is the luma; chroma is half as wide, so the copied rectangle must begin and end at even pixels. */
  async #planar(frame: VideoFrame, visible: DOMRectReadOnly, wanted: PixelArea, timeS: number): Promise<LumaFrame> {
    const left = wanted.x - (wanted.x % 2);
    const top = wanted.y - (wanted.y % 2);
    const right = Math.min(visible.width, wanted.x + wanted.width + ((wanted.x + wanted.width) % 2));
    const bottom = Math.min(visible.height, wanted.y + wanted.height + ((wanted.y + wanted.height) % 2));
    const rect = { x: visible.x + left, y: visible.y + top, width: right - left, height: bottom - top };
    const size = frame.allocationSize({ rect });
    if (this.#bytes.length < size) this.#bytes = new Uint8Array(size);
    const [plane] = await frame.copyTo(this.#bytes, { rect });
    const start = plane!.offset + (wanted.y - top) * plane!.stride + (wanted.x - left);
    return {
      timeS,
      width: wanted.width,
      height: wanted.height,
      stride: plane!.stride,
      luma: this.#bytes.subarray(start),
    };
  }

  /** Frames that a device hands out in colour only; luma by ITU-R BT.709-6, 3.2 and 3.4, in limited range. */
  async #coloured(frame: VideoFrame, visible: DOMRectReadOnly, wanted: PixelArea, timeS: number): Promise<LumaFrame> {
    const rect = { x: visible.x + wanted.x, y: visible.y + wanted.y, width: wanted.width, height: wanted.height };
    const options = { rect, format: "RGBA" as const };
    const size = frame.allocationSize(options);
    if (this.#bytes.length < size) this.#bytes = new Uint8Array(size);
    const [plane] = await frame.copyTo(this.#bytes, options);
    if (this.#luma.length < wanted.width * wanted.height) this.#luma = new Uint8Array(wanted.width * wanted.height);
    lumaOf(this.#bytes, plane!.stride, wanted, this.#luma);
    return { timeS, width: wanted.width, height: wanted.height, stride: wanted.width, luma: this.#luma };
  }
}

function isPlanar(format: VideoPixelFormat | null): boolean {
  return format !== null && /^(I420|I422|I444|NV12)/.test(format) && !/P1[02]$/.test(format);
}

/** Writes the luma of red, green, blue and opacity bytes. */
export function lumaOf(
  colours: Uint8Array | Uint8ClampedArray,
  stride: number,
  { width, height }: Pick<PixelArea, "width" | "height">,
  luma: Uint8Array,
): void {
  for (let y = 0; y < height; y++) {
    for (let x = 0, at = y * stride; x < width; x++, at += 4) {
      const bright = 0.2126 * colours[at]! + 0.7152 * colours[at + 1]! + 0.0722 * colours[at + 2]!;
      luma[y * width + x] = 16.5 + (219 / 255) * bright;
    }
  }
}
