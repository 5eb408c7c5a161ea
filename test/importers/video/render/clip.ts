import type { FrameSource, LumaFrame, PixelArea } from "../../../../src/importers/video/frame.js";
import { type DialStyle, type FaceTexture, paintFace, trueAngle } from "./face.js";
import { handShake, normalDeviates } from "./random.js";

/** How a rendered clip is filmed; lengths in pixels, everything seeded. */
export interface Filming {
  readonly width: number;
  readonly height: number;
  readonly pivotX: number;
  readonly pivotY: number;
  readonly radiusPx: number;
  readonly frameCount: number;
  readonly framesPerS: number;
  readonly seed: number;
  /** Roll of the camera and slope of the dial plane (perspective), fractions per radius. */
  readonly rollDeg?: number;
  readonly slopeX?: number;
  readonly slopeY?: number;
  readonly shakePx?: number;
  readonly shakeRollDeg?: number;
  readonly shakeScale?: number;
  readonly parallax?: number;
  /** Where the needle stands beside its place on the face, by where the eye is, radii: the picture itself does not move. */
  readonly stance?: (timeS: number) => { readonly x: number; readonly y: number };
  readonly shutterS?: number;
  readonly rowReadoutS?: number;
  readonly light?: number;
  readonly noise?: number;
  readonly glare?: number;
  readonly flicker?: number;
  readonly rotationDeg?: 0 | 90 | 180 | 270;
  /** Volts under the needle at a time. */
  readonly volts: (timeS: number) => number;
  /** Changes the finished frame, for a hand, a mirror or a cut; values are luma before noise. */
  readonly spoil?: (values: Float32Array, frame: number, filming: Filming) => void;
  readonly needleHidden?: (frame: number) => boolean;
}

export interface RenderedClip extends FrameSource {
  readonly style: DialStyle;
  readonly filming: Filming;
  readonly timesS: readonly number[];
  readonly truthV: readonly number[];
  /** Where a point of the dial (radius, angle clockwise from up) lies in a frame. */
  place(frame: number, radius: number, angleRad: number): { x: number; y: number };
}

interface View {
  readonly dx: number;
  readonly dy: number;
  readonly roll: number;
  readonly scale: number;
}

/** A clip whose every frame is rendered when it is asked for. */
export function renderedClip(style: DialStyle, filming: Filming): RenderedClip {
  const face = paintFace(style, filming.radiusPx * 1.6);
  const shakes = [1, 2, 3, 4].map((index) => handShake(filming.seed * 10 + index));
  const viewAt = (timeS: number): View => ({
    dx: (filming.shakePx ?? 0) * shakes[0]!(timeS),
    dy: (filming.shakePx ?? 0) * shakes[1]!(timeS),
    roll: (((filming.shakeRollDeg ?? 0) * Math.PI) / 180) * shakes[2]!(timeS),
    scale: 1 + (filming.shakeScale ?? 0) * shakes[3]!(timeS),
  });
  const timesS = Array.from({ length: filming.frameCount }, (_, index) => index / filming.framesPerS);
  const { width, height } = filming;
  const draw = (frame: number): Float32Array => drawFrame(style, filming, face, viewAt, frame);
  return {
    style,
    filming,
    width,
    height,
    rotationDeg: filming.rotationDeg ?? 0,
    durationS: filming.frameCount / filming.framesPerS,
    frameCount: filming.frameCount,
    timesS,
    truthV: timesS.map(filming.volts),
    place: (frame, radius, angleRad) =>
      toPicture(filming, viewAt(timesS[frame]!), radius * Math.sin(angleRad), -radius * Math.cos(angleRad)),
    async *frames(area: PixelArea | null, signal?: AbortSignal): AsyncIterable<LumaFrame> {
      const cut = area ?? { x: 0, y: 0, width, height };
      for (let frame = 0; frame < filming.frameCount; frame++) {
        signal?.throwIfAborted();
        const normal = normalDeviates(filming.seed * 7919 + frame + 1);
        const values = draw(frame);
        const luma = new Uint8Array(cut.width * cut.height);
        for (let y = 0; y < cut.height; y++) {
          for (let x = 0; x < cut.width; x++) {
            const value = values[(y + cut.y) * width + x + cut.x]! + (filming.noise ?? 0) * normal();
            luma[y * cut.width + x] = Math.max(16, Math.min(235, Math.round(value)));
          }
        }
        yield { timeS: timesS[frame]!, width: cut.width, height: cut.height, stride: cut.width, luma };
      }
    },
  };
}

/** From dial units to pixels: perspective slope first, then roll, shake and scale about the pivot. */
function toPicture(filming: Filming, view: View, x: number, y: number): { x: number; y: number } {
  const depth = 1 + (filming.slopeX ?? 0) * x + (filming.slopeY ?? 0) * y;
  const turn = ((filming.rollDeg ?? 0) * Math.PI) / 180 + view.roll;
  const size = (filming.radiusPx * view.scale) / depth;
  return {
    x: filming.pivotX + view.dx + size * (x * Math.cos(turn) - y * Math.sin(turn)),
    y: filming.pivotY + view.dy + size * (x * Math.sin(turn) + y * Math.cos(turn)),
  };
}

function drawFrame(
  style: DialStyle,
  filming: Filming,
  face: FaceTexture,
  viewAt: (timeS: number) => View,
  frame: number,
): Float32Array {
  const { width, height } = filming;
  const values = new Float32Array(width * height);
  const startS = frame / filming.framesPerS;
  const shutterS = filming.shutterS ?? 0;
  const parts = shutterS > 0 ? 3 : 1;
  const normal = handShake(filming.seed * 10 + 7, 0.1, 1);
  const light = (filming.light ?? 1) * (1 + (filming.flicker ?? 0) * Math.sin(2 * Math.PI * 9.3 * startS));
  for (let part = 0; part < parts; part++) {
    const offsetS = parts === 1 ? 0 : (part / (parts - 1) - 0.5) * shutterS;
    const needle = needleAt(style, filming.volts(startS + offsetS));
    for (let row = 0; row < height; row++) {
      const view = viewAt(startS + offsetS + (row / height - 0.5) * (filming.rowReadoutS ?? 0));
      const stance = filming.stance?.(startS + offsetS) ?? { x: 0, y: 0 };
      drawRow(style, filming, face, { ...view, stance }, needle, row, values, filming.needleHidden?.(frame) === true);
    }
  }
  const shine = (filming.glare ?? 0) * (1 + 0.1 * normal(startS));
  const view = viewAt(startS);
  const glareX = filming.pivotX - 0.3 * filming.radiusPx - 1.3 * view.dx;
  const glareY = filming.pivotY - 0.6 * filming.radiusPx - 1.3 * view.dy;
  const spread = 2 * (0.35 * filming.radiusPx) ** 2;
  for (let index = 0; index < values.length; index++) {
    const x = index % width;
    const y = (index - x) / width;
    const distance = (x - glareX) ** 2 + (y - glareY) ** 2;
    values[index] = 16 + (values[index]! / parts) * light + shine * Math.exp(-distance / spread);
  }
  filming.spoil?.(values, frame, filming);
  return values;
}

interface Needle {
  readonly sin: number;
  readonly cos: number;
}

function needleAt(style: DialStyle, volts: number): Needle {
  const angle = trueAngle(style, volts);
  return { sin: Math.sin(angle), cos: Math.cos(angle) };
}

function drawRow(
  style: DialStyle,
  filming: Filming,
  face: FaceTexture,
  view: View & { readonly stance: { readonly x: number; readonly y: number } },
  needle: Needle,
  row: number,
  values: Float32Array,
  hidden: boolean,
): void {
  const turn = ((filming.rollDeg ?? 0) * Math.PI) / 180 + view.roll;
  const cos = Math.cos(turn) / (filming.radiusPx * view.scale);
  const sin = Math.sin(turn) / (filming.radiusPx * view.scale);
  const a = filming.slopeX ?? 0;
  const b = filming.slopeY ?? 0;
  const texels = face.size / (2 * face.reach);
  const shiftX = ((filming.parallax ?? 0) * view.dx) / filming.radiusPx + view.stance.x;
  const shiftY = ((filming.parallax ?? 0) * view.dy) / filming.radiusPx + view.stance.y;
  const ink = style.needleLevel ?? (style.lightOnDark ? 225 : 25);
  const pixel = 1 / filming.radiusPx;
  const cover = style.cover ?? 0.16;
  for (let column = 0; column < filming.width; column++) {
    const u = column - filming.pivotX - view.dx;
    const v = row - filming.pivotY - view.dy;
    const p = u * cos + v * sin;
    const q = -u * sin + v * cos;
    // Inverse of x / (1 + a x + b y): a point on the picture plane divided by 1 - a p - b q.
    const depth = 1 - a * p - b * q;
    const x = p / depth;
    const y = q / depth;
    let value = sample(face, (x + face.reach) * texels - 0.5, (y + face.reach) * texels - 0.5);
    const radius = Math.hypot(x, y);
    if (!hidden && radius < 1.1) {
      const nx = x - shiftX;
      const ny = y - shiftY;
      value *= 1 - 0.35 * needleCover(style, needle, nx - 0.014, ny - 0.02, 0.02);
      value += (ink - value) * needleCover(style, needle, nx, ny, 0.55 * pixel);
    }
    if (radius < cover + 0.03) {
      const part = 1 / (1 + Math.exp((radius - cover) / (0.5 * pixel)));
      value += ((style.lightOnDark ? 30 : 55) - value) * part;
    }
    values[row * filming.width + column]! += value;
  }
}

function needleCover(style: DialStyle, needle: Needle, x: number, y: number, softness: number): number {
  const along = x * needle.sin - y * needle.cos;
  const across = x * needle.cos + y * needle.sin;
  const shape = style.needle ?? "taper";
  const length = style.needleLength ?? (shape === "hand" ? 0.92 : 0.98);
  let half = 0.016;
  if (shape === "taper") half = 0.022 - 0.016 * Math.max(0, along);
  if (shape === "hand")
    half = along < 0.62 ? 0.012 : along < 0.74 ? 0.012 + 0.18 * (along - 0.62) : 0.034 * ((length - along) / 0.18);
  const end = Math.max(along - length, -(style.tail ?? 0) - along);
  const distance = Math.max(Math.abs(across) - half, end);
  if (distance > 8 * softness) return 0;
  return 1 / (1 + Math.exp(distance / (0.6 * softness)));
}

function sample(face: FaceTexture, x: number, y: number): number {
  const column = Math.floor(x);
  const row = Math.floor(y);
  if (column < 0 || row < 0 || column >= face.size - 1 || row >= face.size - 1) return 96;
  const fx = x - column;
  const fy = y - row;
  const at = row * face.size + column;
  const upper = face.values[at]! * (1 - fx) + face.values[at + 1]! * fx;
  const lower = face.values[at + face.size]! * (1 - fx) + face.values[at + face.size + 1]! * fx;
  return upper * (1 - fy) + lower * fy;
}
