import type { RandomSource } from "../simulator/random-source.js";
import { angleOfVolts, type DialStyle } from "./dial-style.js";
import { gaussianBlur } from "./gaussian-blur.js";

/** The dial without its needle in its own plane: pixel (column, row) shows the place (column - originX, row - originY). */
export interface DialDrawing {
  readonly width: number;
  readonly height: number;
  readonly originX: number;
  readonly originY: number;
  /** The same picture ever more out of focus; standard deviations in `blursPx`. */
  readonly planes: readonly Uint8Array[];
  readonly blursPx: readonly number[];
}

const BLURS_PX = [0, 1.2, 2.4, 4.8];

/** Draws panel, face, scale and screws in the plane of the dial; the pivot is the origin and y runs down. */
export function drawDial(
  style: DialStyle,
  radiusPx: number,
  extent: { left: number; top: number; right: number; bottom: number },
  random: RandomSource,
): DialDrawing {
  const width = Math.ceil(extent.right - extent.left);
  const height = Math.ceil(extent.bottom - extent.top);
  const sheet = new Sheet(width, height, -extent.left, -extent.top, style.panel);
  sheet.speckle(random);
  drawFace(sheet, style, radiusPx);
  drawScale(sheet, style, radiusPx);
  if (style.cover === "plate") drawPlate(sheet, style, radiusPx);
  const sharp = gaussianBlur(sheet.luma, width, height, 0.6);
  const planes = BLURS_PX.map((blurPx) => {
    const plane = blurPx === 0 ? sharp : gaussianBlur(sharp, width, height, blurPx);
    return Uint8Array.from(plane, (value) => Math.max(0, Math.min(255, Math.round(value))));
  });
  return { width, height, originX: -extent.left, originY: -extent.top, planes, blursPx: BLURS_PX };
}

/** Middle of the face, as the eye takes it: where a person would aim the camera. */
export function faceMiddle(style: DialStyle, radiusPx: number): { x: number; y: number } {
  if (style.outline === "round") return { x: 0, y: 0 };
  const middle = ((style.zeroDeg + style.sweepDeg / 2) * Math.PI) / 180;
  return { x: 0.62 * radiusPx * Math.cos(middle), y: 0.62 * radiusPx * Math.sin(middle) };
}

function drawFace(sheet: Sheet, style: DialStyle, radiusPx: number): void {
  const middle = faceMiddle(style, radiusPx);
  if (style.outline === "round") {
    sheet.disc(0, 0, 1.3 * radiusPx, style.panel * 0.45);
    sheet.disc(0, 0, 1.22 * radiusPx, style.face);
  } else {
    sheet.box(middle.x, middle.y, 1.02 * radiusPx, 0.78 * radiusPx, style.panel * 0.45);
    sheet.box(middle.x, middle.y, 0.96 * radiusPx, 0.72 * radiusPx, style.face);
  }
  for (const [sx, sy] of [
    [-1, -1],
    [1, -1],
    [-1, 1],
    [1, 1],
  ] as const) {
    const x = middle.x + sx * 1.16 * radiusPx;
    const y = middle.y + sy * (style.outline === "round" ? 1.16 : 0.9) * radiusPx;
    sheet.disc(x, y, 0.055 * radiusPx, 150);
    sheet.stroke(x - 0.04 * radiusPx, y - 0.02 * radiusPx, x + 0.04 * radiusPx, y + 0.02 * radiusPx, 2.2, 60);
  }
}

function drawScale(sheet: Sheet, style: DialStyle, radiusPx: number): void {
  const minorCount = Math.round(style.fullScaleV / style.minorV);
  for (let k = 0; k <= minorCount; k++) {
    const volts = k * style.minorV;
    const major = Math.abs(volts / style.majorV - Math.round(volts / style.majorV)) < 1e-9;
    const angle = (angleOfVolts(style, volts) * Math.PI) / 180;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    const inner = (major ? 0.95 : 0.97) * radiusPx;
    const outer = (major ? 1.05 : 1.02) * radiusPx;
    const halfWidth = Math.max(0.8, (major ? 0.006 : 0.0035) * radiusPx);
    sheet.stroke(inner * cos, inner * sin, outer * cos, outer * sin, halfWidth, style.ink);
    if (major) drawNumber(sheet, `${volts}`, 1.13 * radiusPx * cos, 1.13 * radiusPx * sin, 0.075 * radiusPx, style.ink);
  }
  const steps = 240;
  for (let k = 0; k < steps; k++) {
    const [from, to] = [k, k + 1].map((step) => {
      const angle = ((style.zeroDeg + (style.sweepDeg * step) / steps) * Math.PI) / 180;
      return { x: radiusPx * Math.cos(angle), y: radiusPx * Math.sin(angle) };
    });
    sheet.stroke(from!.x, from!.y, to!.x, to!.y, Math.max(0.7, 0.003 * radiusPx), style.ink);
  }
  const middle = ((style.zeroDeg + style.sweepDeg / 2) * Math.PI) / 180;
  const [x, y] = [0.55 * radiusPx * Math.cos(middle), 0.55 * radiusPx * Math.sin(middle)];
  const size = 0.06 * radiusPx;
  sheet.stroke(x - size, y - size, x, y + size, 0.16 * size, style.ink);
  sheet.stroke(x + size, y - size, x, y + size, 0.16 * size, style.ink);
}

/** A plate that hides the pivot and the lower end of the needle; drawn again over the needle. */
function drawPlate(sheet: Sheet, style: DialStyle, radiusPx: number): void {
  const middle = (style.zeroDeg + style.sweepDeg / 2) * (Math.PI / 180);
  sheet.box(0, 0, 0.96 * radiusPx, plateReach(radiusPx), style.panel * 0.6);
  const [x, y] = [-0.02 * radiusPx * Math.cos(middle), -0.02 * radiusPx * Math.sin(middle)];
  sheet.disc(x, y, 0.05 * radiusPx, 140);
  sheet.stroke(x - 0.035 * radiusPx, y + 0.01 * radiusPx, x + 0.035 * radiusPx, y - 0.01 * radiusPx, 2, 50);
}

/** How far the plate reaches above the pivot. */
export function plateReach(radiusPx: number): number {
  return 0.2 * radiusPx;
}

/** Strokes of each digit on a grid of 2 by 4: x and y of both ends. */
const DIGITS: readonly (readonly (readonly [number, number, number, number])[])[] = [
  [
    [0, 0, 2, 0],
    [2, 0, 2, 4],
    [2, 4, 0, 4],
    [0, 4, 0, 0],
  ],
  [
    [1, 0, 1, 4],
    [0, 1, 1, 0],
  ],
  [
    [0, 0, 2, 0],
    [2, 0, 2, 2],
    [2, 2, 0, 2],
    [0, 2, 0, 4],
    [0, 4, 2, 4],
  ],
  [
    [0, 0, 2, 0],
    [2, 0, 2, 4],
    [0, 2, 2, 2],
    [0, 4, 2, 4],
  ],
  [
    [0, 0, 0, 2],
    [0, 2, 2, 2],
    [2, 0, 2, 4],
  ],
  [
    [2, 0, 0, 0],
    [0, 0, 0, 2],
    [0, 2, 2, 2],
    [2, 2, 2, 4],
    [2, 4, 0, 4],
  ],
  [
    [2, 0, 0, 0],
    [0, 0, 0, 4],
    [0, 4, 2, 4],
    [2, 4, 2, 2],
    [2, 2, 0, 2],
  ],
  [
    [0, 0, 2, 0],
    [2, 0, 1, 4],
  ],
  [
    [0, 0, 2, 0],
    [2, 0, 2, 4],
    [2, 4, 0, 4],
    [0, 4, 0, 0],
    [0, 2, 2, 2],
  ],
  [
    [2, 2, 0, 2],
    [0, 2, 0, 0],
    [0, 0, 2, 0],
    [2, 0, 2, 4],
    [2, 4, 0, 4],
  ],
];

function drawNumber(sheet: Sheet, text: string, x: number, y: number, heightPx: number, ink: number): void {
  const unit = heightPx / 4;
  const left = x - (text.length * 3 - 1) * unit * 0.5;
  [...text].forEach((digit, place) => {
    for (const [x1, y1, x2, y2] of DIGITS[Number(digit)] ?? []) {
      const [dx, dy] = [left + place * 3 * unit, y - heightPx / 2];
      sheet.stroke(dx + x1 * unit, dy + y1 * unit, dx + x2 * unit, dy + y2 * unit, Math.max(0.8, 0.28 * unit), ink);
    }
  });
}

/** A plane of luma that shapes are laid on. */
class Sheet {
  readonly luma: Float32Array;

  constructor(
    readonly width: number,
    readonly height: number,
    readonly originX: number,
    readonly originY: number,
    ground: number,
  ) {
    this.luma = new Float32Array(width * height).fill(ground);
  }

  /** A painted surface with a coarse and a fine grain. */
  speckle(random: RandomSource): void {
    const side = 256;
    const grain = Float32Array.from({ length: side * side }, () => 9 * random.normal());
    // The tile goes on beyond its edges as it begins, so that no seam shows.
    const margin = 12;
    const wide = side + 2 * margin;
    const beyond = Float32Array.from({ length: wide * wide }, (_, k) => {
      const row = (Math.floor(k / wide) - margin + side) % side;
      return grain[row * side + (((k % wide) - margin + side) % side)]!;
    });
    const coarse = gaussianBlur(beyond, wide, wide, 3);
    const fine = gaussianBlur(beyond, wide, wide, 0.9);
    const tile = grain.map((_, k) => {
      const at = (Math.floor(k / side) + margin) * wide + (k % side) + margin;
      return 4 * coarse[at]! + 0.6 * fine[at]!;
    });
    for (let row = 0; row < this.height; row++) {
      for (let column = 0; column < this.width; column++)
        this.luma[row * this.width + column]! += tile[(row % side) * side + (column % side)]!;
    }
  }

  disc(x: number, y: number, radiusPx: number, value: number): void {
    this.lay(
      x - radiusPx,
      y - radiusPx,
      x + radiusPx,
      y + radiusPx,
      value,
      (px, py) => radiusPx - Math.hypot(px - x, py - y),
    );
  }

  box(x: number, y: number, halfWidth: number, halfHeight: number, value: number): void {
    this.lay(x - halfWidth, y - halfHeight, x + halfWidth, y + halfHeight, value, (px, py) =>
      Math.min(halfWidth - Math.abs(px - x), halfHeight - Math.abs(py - y)),
    );
  }

  stroke(x1: number, y1: number, x2: number, y2: number, halfWidth: number, value: number): void {
    const [dx, dy] = [x2 - x1, y2 - y1];
    const square = dx * dx + dy * dy || 1;
    this.lay(
      Math.min(x1, x2) - halfWidth,
      Math.min(y1, y2) - halfWidth,
      Math.max(x1, x2) + halfWidth,
      Math.max(y1, y2) + halfWidth,
      value,
      (px, py) => {
        const share = Math.max(0, Math.min(1, ((px - x1) * dx + (py - y1) * dy) / square));
        return halfWidth - Math.hypot(px - x1 - share * dx, py - y1 - share * dy);
      },
    );
  }

  /** Lays a shape given by the distance to its edge, positive inside; the edge is one pixel soft. */
  private lay(
    left: number,
    top: number,
    right: number,
    bottom: number,
    value: number,
    inside: (x: number, y: number) => number,
  ): void {
    const firstRow = Math.max(0, Math.floor(top + this.originY) - 1);
    const lastRow = Math.min(this.height - 1, Math.ceil(bottom + this.originY) + 1);
    const firstColumn = Math.max(0, Math.floor(left + this.originX) - 1);
    const lastColumn = Math.min(this.width - 1, Math.ceil(right + this.originX) + 1);
    for (let row = firstRow; row <= lastRow; row++) {
      for (let column = firstColumn; column <= lastColumn; column++) {
        const share = inside(column - this.originX, row - this.originY) + 0.5;
        if (share <= 0) continue;
        const at = row * this.width + column;
        this.luma[at] = this.luma[at]! + Math.min(1, share) * (value - this.luma[at]!);
      }
    }
  }
}
