import type { NeedleLine, Place } from "../importers/video/dial-geometry.js";
import type { LumaFrame } from "../importers/video/frame.js";
import { type CodedPicture, uprightPlace, uprightSize } from "../importers/video/upright.js";
import { grayPng } from "./gray-png.js";

/** What was found of a dial; places in coded pixels. */
export interface SeenDial {
  readonly pivot: Place | null;
  readonly scaleRadiusPx: number | null;
  readonly needle: NeedleLine | null;
  readonly marks: readonly (Place & { readonly volts: number })[];
}

const FOUND = "#ff5a1f";
const INK = "#ffffff";

/** A frame's luma stood upright as full-range gray, rows without padding. */
export function uprightGray(
  picture: CodedPicture,
  frame: LumaFrame,
): { width: number; height: number; gray: Uint8Array } {
  const { width, height } = uprightSize(picture);
  const origin = uprightPlace(picture, { x: 0, y: 0 });
  const [along, down] = [uprightPlace(picture, { x: 1, y: 0 }), uprightPlace(picture, { x: 0, y: 1 })];
  const gray = new Uint8Array(width * height);
  const stepX = along.y * width + along.x - (origin.y * width + origin.x);
  const stepY = down.y * width + down.x - (origin.y * width + origin.x);
  for (let y = 0; y < frame.height; y++) {
    let to = origin.y * width + origin.x + y * stepY;
    for (let x = 0; x < frame.width; x++, to += stepX) {
      const value = ((frame.luma[y * frame.stride + x]! - 16) * 255) / 219;
      gray[to] = value < 0 ? 0 : value > 255 ? 255 : value + 0.5;
    }
  }
  return { width, height, gray };
}

/** The upright still with what was found drawn on it and rulers of pixels along its edges, as SVG. */
export function stillSvg(picture: CodedPicture, still: LumaFrame, seen: SeenDial): string {
  const { width, height, gray } = uprightGray(picture, still);
  const unit = Math.max(width, height) / 1000;
  const image = grayPng(width, height, gray).toString("base64");
  const caption = `still: { time_s: ${still.timeS.toFixed(3)}, width: ${width}, height: ${height} }`;
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" font-family="DejaVu Sans" font-size="${(13 * unit).toFixed(1)}">`,
    `<image href="data:image/png;base64,${image}" width="${width}" height="${height}"/>`,
    ...rulers(width, height, unit),
    ...drawnDial(picture, seen, unit),
    ...label(30 * unit, height - 30 * unit, caption),
    "</svg>",
  ].join("\n");
}

function drawnDial(picture: CodedPicture, seen: SeenDial, unit: number): string[] {
  const { pivot, scaleRadiusPx, needle, marks } = seen;
  const at = (place: Place) => uprightPlace(picture, place);
  const parts: string[] = [];
  const stroke = `fill="none" stroke="${FOUND}" stroke-width="${n(1.6 * unit)}"`;
  if (pivot !== null) {
    const { x, y } = at(pivot);
    const arm = 10 * unit;
    parts.push(`<path d="M${n(x - arm)} ${n(y)}h${n(2 * arm)}M${n(x)} ${n(y - arm)}v${n(2 * arm)}" ${stroke}/>`);
    if (scaleRadiusPx !== null)
      parts.push(
        `<circle cx="${n(x)}" cy="${n(y)}" r="${n(scaleRadiusPx)}" stroke-dasharray="${n(6 * unit)}" ${stroke}/>`,
      );
    if (needle !== null) {
      const end = (radiusPx: number) =>
        at({ x: pivot.x + radiusPx * Math.cos(needle.angleRad), y: pivot.y + radiusPx * Math.sin(needle.angleRad) });
      const [from, to] = [end(needle.innerPx), end(needle.outerPx)];
      parts.push(`<path d="M${n(from.x)} ${n(from.y)}L${n(to.x)} ${n(to.y)}" ${stroke}/>`);
      parts.push(...label(to.x + 8 * unit, to.y - 8 * unit, "needle"));
    }
  }
  for (const mark of marks) {
    const { x, y } = at(mark);
    parts.push(`<circle cx="${n(x)}" cy="${n(y)}" r="${n(4 * unit)}" ${stroke}/>`);
  }
  return [...parts, ...markNames(picture, seen, unit)];
}

/** Volts beside the marks, outside the scale; of many marks only some. */
function markNames(picture: CodedPicture, { pivot, marks }: SeenDial, unit: number): string[] {
  const every = Math.ceil(marks.length / 12);
  return marks.flatMap((mark, index) => {
    if (index % every !== 0) return [];
    const away = pivot === null ? 1 : Math.hypot(mark.x - pivot.x, mark.y - pivot.y);
    const out = pivot === null ? 1 : 1 + (26 * unit) / Math.max(1, away);
    const from = pivot ?? mark;
    const { x, y } = uprightPlace(picture, {
      x: from.x + (mark.x - from.x) * out,
      y: from.y + (mark.y - from.y) * out,
    });
    return label(x - 8 * unit, y + 5 * unit, `${Number(mark.volts.toFixed(3))} V`);
  });
}

/** Rulers of upright pixels, so that a place can be read off for a dial file. */
function rulers(width: number, height: number, unit: number): string[] {
  const parts: string[] = [];
  for (let x = 0; x < width; x += 100) {
    parts.push(`<path d="M${x} 0v${n(8 * unit)}" stroke="${INK}" stroke-width="${n(unit)}"/>`);
    if (x > 0) parts.push(...label(x + 2 * unit, 20 * unit, String(x)));
  }
  for (let y = 0; y < height; y += 100) {
    parts.push(`<path d="M0 ${y}h${n(8 * unit)}" stroke="${INK}" stroke-width="${n(unit)}"/>`);
    if (y > 0) parts.push(...label(10 * unit, y + 5 * unit, String(y)));
  }
  return parts;
}

function label(x: number, y: number, text: string): string[] {
  return [
    `<text x="${n(x)}" y="${n(y)}" fill="${INK}" stroke="#000" stroke-width="3" paint-order="stroke">${text}</text>`,
  ];
}

function n(value: number): string {
  return value.toFixed(1);
}
