import { type RandomSource, randomSource } from "../simulator/random-source.js";
import { type CameraMotion, cameraMotion, inverted, type Projection, projected } from "./camera-motion.js";
import { type DialDrawing, drawDial, faceMiddle } from "./dial-drawing.js";
import { angleOfVolts, DIAL_STYLES, type DialStyle } from "./dial-style.js";
import type { FilmFaults } from "./film-faults.js";
import type { FootagePlan } from "./footage-plan.js";
import { barrelled, straightened } from "./lens-barrel.js";
import { needleVolts } from "./needle-motion.js";
import { needlePainter } from "./needle-painting.js";
import { type Unsteady, unsteadyMotion } from "./unsteady.js";

/** A simulated scene that can be looked at frame by frame. */
export interface Scene {
  readonly plan: FootagePlan;
  readonly style: DialStyle;
  readonly camera: CameraMotion;
  readonly volts: Unsteady;
  /** Renders the frame whose middle row is exposed about `timeS` into 8-bit luma, rows without padding. */
  render(timeS: number, luma: Uint8Array): void;
  /** What is true of that frame: volts and angle at the needle's row, and the map from the dial to the picture. */
  truth(timeS: number): { volts: number; angleDeg: number; view: Projection };
  /** Where a place of the dial's plane (pivot at the origin, pixels) stands in the picture of that frame. */
  place(timeS: number, x: number, y: number): { x: number; y: number };
}

const NOISE_COUNT = 1 << 18;

/** Builds the scene of a plan, filmed with faults; the same ones give the same pictures. */
export function buildScene(plan: FootagePlan, faults: FilmFaults = {}): Scene {
  const random = randomSource(plan.seed);
  const style: DialStyle = DIAL_STYLES[plan.style];
  const camera = faultyCamera(cameraMotion(plan, style, random), faults);
  const shown = needleVolts(plan.bus, plan.durationS + plan.timing.firstStampS);
  const volts = faults.needleV?.(shown) ?? shown;
  const drawing = drawDial(style, plan.radiusPx, extentOf(plan, style), random);
  const noise = Float32Array.from({ length: NOISE_COUNT }, () => random.normal());
  const exposure = unsteadyMotion({ rms: plan.light.driftShare, lowHz: 0.05, highHz: 0.8 }, plan.durationS, random);
  const renderer = new Renderer({ plan, faults, style, camera, volts, drawing, noise, exposure, random });
  const view = new Float64Array(9);
  const momentOf = (timeS: number) => faults.shownS?.(timeS) ?? timeS;
  return {
    plan,
    style,
    camera,
    volts,
    render: (timeS, luma) => renderer.render(momentOf(timeS), luma),
    place(timeS, x, y) {
      camera.view(momentOf(timeS), view);
      return barrelled(plan, faults.barrel ?? 0, projected(view, x, y));
    },
    truth(stampS) {
      const timeS = momentOf(stampS);
      camera.view(timeS, view);
      const angle = (angleOfVolts(style, volts(timeS)) * Math.PI) / 180;
      const reach = 0.6 * plan.radiusPx;
      const row = projected(view, reach * Math.cos(angle), reach * Math.sin(angle)).y;
      const rowS = timeS + plan.camera.readoutS * (row / plan.height - 0.5);
      return { volts: volts(rowS), angleDeg: angleOfVolts(style, volts(rowS)), view: view.slice() };
    },
  };
}

function faultyCamera(camera: CameraMotion, faults: FilmFaults): CameraMotion {
  return {
    ...camera,
    blurPx: (timeS) => Math.hypot(camera.blurPx(timeS), faults.blurPx?.(timeS) ?? 0),
    view(timeS, into) {
      camera.view(timeS, into);
      faults.view?.(timeS, into);
    },
  };
}

function extentOf(plan: FootagePlan, style: DialStyle): { left: number; top: number; right: number; bottom: number } {
  const aim = faceMiddle(style, plan.radiusPx);
  const margin = 60 + 6 * plan.camera.shakeRmsPx;
  const [halfWidth, halfHeight] = [
    0.53 * plan.width + 0.06 * plan.height + margin,
    0.53 * plan.height + 0.06 * plan.width + margin,
  ];
  return { left: aim.x - halfWidth, top: aim.y - halfHeight, right: aim.x + halfWidth, bottom: aim.y + halfHeight };
}

interface RenderSetup {
  readonly plan: FootagePlan;
  readonly faults: FilmFaults;
  readonly style: DialStyle;
  readonly camera: CameraMotion;
  readonly volts: Unsteady;
  readonly drawing: DialDrawing;
  readonly noise: Float32Array;
  readonly exposure: Unsteady;
  readonly random: RandomSource;
}

/** Draws frames row by row, since every row of a rolling shutter has its own moment. */
class Renderer {
  private readonly sums: Float32Array;
  private readonly view = new Float64Array(9);
  private readonly back = new Float64Array(9);

  constructor(private readonly setup: RenderSetup) {
    this.sums = new Float32Array(setup.plan.width);
  }

  render(timeS: number, luma: Uint8Array): void {
    const { plan, camera } = this.setup;
    const { width, height } = plan;
    const sampleCount = this.exposureSamples(timeS);
    const blur = blurPlanes(this.setup.drawing, camera.blurPx(timeS));
    const hidden = plan.hidden.find(({ startS, endS }) => timeS >= startS && timeS < endS);
    for (let row = 0; row < height; row++) {
      const rowS = timeS + plan.camera.readoutS * (row / height - 0.5);
      this.sums.fill(0);
      for (let sample = 0; sample < sampleCount; sample++) {
        const momentS = rowS + plan.camera.exposureS * ((sample + 0.5) / sampleCount - 0.5);
        camera.view(momentS, this.view);
        if (hidden?.by === "turned-away") this.view[2]! += 3 * width * this.view[8]!;
        inverted(this.view, this.back);
        this.addRow(row, momentS, blur);
      }
      this.finishRow(row, rowS, sampleCount, luma, hidden?.by === "hand");
    }
  }

  /** As many moments as keep neighbouring ones within about a pixel. */
  private exposureSamples(timeS: number): number {
    const { plan, camera } = this.setup;
    const half = plan.camera.exposureS / 2;
    const moved = Math.hypot(
      camera.shakeX(timeS + half) - camera.shakeX(timeS - half),
      camera.shakeY(timeS + half) - camera.shakeY(timeS - half),
    );
    return Math.max(this.setup.faults.leastMoments ?? 1, Math.min(4, Math.ceil(moved / 0.8)));
  }

  private addRow(
    row: number,
    momentS: number,
    blur: { near: Uint8Array; far: Uint8Array; share: number; px: number },
  ): void {
    const { drawing, style, plan, faults, volts } = this.setup;
    const barrel = faults.barrel ?? 0;
    const { width: drawnWidth, height: drawnHeight, originX, originY } = drawing;
    const [a, b, c, d, e, f, g, h, i] = this.back as unknown as number[];
    const angle = (angleOfVolts(style, volts(momentS)) * Math.PI) / 180;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    const radius = plan.radiusPx;
    const reach = style.needleReach * radius;
    const tail = -style.needleTail * radius;
    const needleOver = needlePainter(this.setup, momentS, blur.px, cos, sin);
    const wide = 0.09 * radius + 6;
    const { near, far, share } = blur;
    const { sums } = this;
    for (let column = 0; column < sums.length; column++) {
      const { x: u, y: v } = barrel === 0 ? { x: column, y: row } : straightened(plan, barrel, { x: column, y: row });
      const w = 1 / (g! * u + h! * v + i!);
      const x = (a! * u + b! * v + c!) * w;
      const y = (d! * u + e! * v + f!) * w;
      let px = x + originX;
      let py = y + originY;
      px = px < 0 ? 0 : px > drawnWidth - 2 ? drawnWidth - 2 : px;
      py = py < 0 ? 0 : py > drawnHeight - 2 ? drawnHeight - 2 : py;
      const ix = px | 0;
      const iy = py | 0;
      const tx = px - ix;
      const ty = py - iy;
      const at = iy * drawnWidth + ix;
      let value = bilinear(near, at, drawnWidth, tx, ty);
      if (share > 0.01) value += share * (bilinear(far, at, drawnWidth, tx, ty) - value);

      const along = cos * x + sin * y;
      if (along < reach + 20 && along > tail - 20) {
        const across = cos * y - sin * x;
        if (across < wide && across > -wide) value = needleOver(value, x, y);
      }
      sums[column]! += value;
    }
  }

  private finishRow(row: number, rowS: number, sampleCount: number, luma: Uint8Array, hand: boolean): void {
    const { plan, faults, noise, exposure, random, camera } = this.setup;
    const { width, height, light } = plan;
    const flicker = 1 + light.flickerShare * Math.sin(2 * Math.PI * 100 * rowS);
    const gain = (light.level * (1 + exposure(rowS)) * flicker) / sampleCount;
    const glareX = 0.62 * width - 1.5 * camera.shakeX(rowS);
    const glareY = 0.33 * height - 1.5 * camera.shakeY(rowS);
    const glareRow = ((row - glareY) / (0.16 * height)) ** 2;
    const noiseStart = Math.floor(random.uniform() * (noise.length - width));
    const { sums } = this;
    const [lit, gamma] = [faults.light?.(rowS) ?? 1, faults.gamma?.(rowS) ?? 1];
    for (let column = 0; column < width; column++) {
      let value = 16 + (sums[column]! - 16 * sampleCount) * gain;
      if (light.glare > 0 && glareRow < 6) {
        const square = glareRow + ((column - glareX) / (0.12 * width)) ** 2;
        if (square < 6) value += light.glare * light.level * Math.exp(-square);
      }
      if (hand && handCovers(column / width, row / height))
        value = 16 + 110 * light.level + 8 * Math.sin(column * 0.02);
      if (lit !== 1) value = 16 + (value - 16) * lit;
      if (gamma !== 1) value = 16 + 219 * Math.max(0, (value - 16) / 219) ** gamma;
      value += light.noise * noise[noiseStart + column]!;
      luma[row * width + column] = value < 16 ? 16 : value > 235 ? 235 : value + 0.5;
    }
  }
}

function handCovers(x: number, y: number): boolean {
  return Math.abs(x - 0.55 - 0.2 * (y - 0.5)) < 0.16 && y > 0.08;
}

function bilinear(plane: Uint8Array, at: number, width: number, tx: number, ty: number): number {
  const upper = plane[at]! + tx * (plane[at + 1]! - plane[at]!);
  const lower = plane[at + width]! + tx * (plane[at + width + 1]! - plane[at + width]!);
  return upper + ty * (lower - upper);
}

function blurPlanes(
  drawing: DialDrawing,
  px: number,
): { near: Uint8Array; far: Uint8Array; share: number; px: number } {
  const { blursPx, planes } = drawing;
  let k = 0;
  while (k < blursPx.length - 2 && px > blursPx[k + 1]!) k++;
  const share = Math.max(0, Math.min(1, (px * px - blursPx[k]! ** 2) / (blursPx[k + 1]! ** 2 - blursPx[k]! ** 2)));
  return { near: planes[k]!, far: planes[k + 1]!, share, px };
}
