import type { FrameSource, LumaFrame, PixelArea } from "./frame.js";
import { isRegistered } from "./frame-follower.js";
import { FramePixels } from "./frame-pixels.js";
import { type Registration, type RegistrationStart, registerFrame } from "./registration.js";
import { quickTemplate } from "./registration-template.js";
import type { GrayPlane } from "./smooth-sampling.js";
import { unmoved, warped } from "./warp.js";

/** One frame of the clip and the mean of it and its neighbours laid onto it, which has less noise. */
export interface Still {
  readonly frame: LumaFrame;
  /** Where neighbours were laid on. */
  readonly area: PixelArea;
  readonly neighbours: readonly Neighbour[];
  readonly mean: GrayPlane;
}

/** A frame near the still, and how it lies on it. */
export interface Neighbour {
  readonly frame: LumaFrame;
  readonly registration: Registration;
}

/** Frames before and after the still that are averaged. */
const NEIGHBOUR_COUNT = 5;
/** In which they lie, at 10 frames per second or more, where the clip does not tell its rate. */
const NEIGHBOURS_S = 0.5;

/** The still nearest a time, averaged in one area or all over; null where the clip has no frame. */
export async function stillAt(
  source: FrameSource,
  timeS: number,
  area: PixelArea | null,
  signal?: AbortSignal,
): Promise<Still | null> {
  let window: LumaFrame[] = [];
  let nearest = -1;
  let after = 0;
  const { frameCount, durationS } = source;
  const usualS = frameCount === null || durationS === null ? NEIGHBOURS_S : durationS / frameCount;
  const beforeS = Math.min(NEIGHBOURS_S, (NEIGHBOUR_COUNT + 1) * usualS);
  for await (const frame of source.frames(null, signal, timeS - beforeS)) {
    const copy = copied(frame);
    window.push(copy);
    const best = window[nearest];
    if (best === undefined || Math.abs(copy.timeS - timeS) < Math.abs(best.timeS - timeS)) {
      if (window.length > NEIGHBOUR_COUNT + 1) window = window.slice(-NEIGHBOUR_COUNT - 1);
      nearest = window.length - 1;
      after = 0;
    } else if (++after >= NEIGHBOUR_COUNT) break;
  }
  if (nearest < 0) return null;
  return stillOf(window, nearest, area);
}

/** Stills spread over the clip, each the sharpest of a second: call `next` until it says null. */
export async function* stills(source: FrameSource, everyS: number, signal?: AbortSignal): AsyncGenerator<Still> {
  let window: LumaFrame[] = [];
  let nextS = Number.NEGATIVE_INFINITY;
  for await (const frame of source.frames(null, signal)) {
    if (frame.timeS < nextS) continue;
    window.push(copied(frame));
    if (window.length < 12) continue;
    yield sharpest(window);
    window = [];
    nextS = frame.timeS + everyS;
  }
  if (window.length > 0) yield sharpest(window);
}

function sharpest(window: readonly LumaFrame[]): Still {
  const sharpness = window.map(sharpnessOf);
  const index = sharpness.indexOf(Math.max(...sharpness));
  return stillOf(window, index, null);
}

function sharpnessOf(frame: LumaFrame): number {
  let sum = 0;
  for (let row = 2; row < frame.height - 2; row += 3) {
    for (let at = row * frame.stride + 2; at < row * frame.stride + frame.width - 2; at += 3)
      sum += (frame.luma[at + 2]! - frame.luma[at - 2]!) ** 2;
  }
  return sum;
}

function copied(frame: LumaFrame): LumaFrame {
  return { ...frame, luma: frame.luma.slice() };
}

function stillOf(window: readonly LumaFrame[], index: number, wanted: PixelArea | null): Still {
  const still = window[index]!;
  const { width, height } = still;
  const whole = { x: 0, y: 0, width, height };
  const area = wanted ?? whole;
  const centre = {
    x: area.x + area.width / 2,
    y: area.y + area.height / 2,
    lengthPx: Math.min(area.width, area.height) / 2,
  };
  let pixels = FramePixels.of(still);
  const isInside = (x: number, y: number) =>
    x >= area.x && y >= area.y && x < area.x + area.width && y < area.y + area.height;
  const template = quickTemplate(pixels, centre, isInside, 1000);
  const start: RegistrationStart = {
    warp: unmoved(centre.x, centre.y),
    gain: 1,
    offset: 0,
    blur: 0,
    residual: 4,
  };
  const neighbours = window.flatMap((frame, other) => {
    if (other === index || Math.abs(other - index) > NEIGHBOUR_COUNT) return [];
    pixels = FramePixels.of(frame, pixels);
    const registration = registerFrame(template, { pixels, area: whole }, start);
    return isRegistered(registration) ? [{ frame, registration }] : [];
  });
  return { frame: still, area, neighbours, mean: meanOf(still, area, neighbours) };
}

/** The same still with the mean of some of its neighbours. */
export function stillWith(still: Still, neighbours: readonly Neighbour[]): Still {
  return { ...still, neighbours, mean: meanOf(still.frame, still.area, neighbours) };
}

function meanOf(still: LumaFrame, area: PixelArea, neighbours: readonly Neighbour[]): GrayPlane {
  const { width, height } = still;
  const values = new Float32Array(width * height);
  for (let row = 0; row < height; row++)
    values.set(still.luma.subarray(row * still.stride, row * still.stride + width), row * width);
  const changes = new Int8Array(area.width + 1);
  for (let row = area.y; row < area.y + area.height; row++) {
    const sums = values.subarray(row * width + area.x, row * width + area.x + area.width);
    changes.fill(0);
    for (const { frame, registration } of neighbours) {
      const { from, to } = addWarped(frame, registration, row, area.x, sums);
      changes[from]!++;
      changes[to]!--;
    }
    let count = 1;
    for (let at = 0; at < sums.length; at++) {
      count += changes[at]!;
      sums[at]! /= count;
    }
  }
  return { width, height, stride: width, values };
}

/** Adds what a frame shows of a row of the still, from column `left` on; returns which of the sums it reached. */
function addWarped(
  frame: LumaFrame,
  { warp, gain, offset }: Registration,
  row: number,
  left: number,
  sums: Float32Array,
): { from: number; to: number } {
  const { width, height, stride, luma } = frame;
  const perGain = 1 / gain;
  const { x: startX, y: startY } = warped(warp, warp.centreX, row);
  const { x: nextX, y: nextY } = warped(warp, warp.centreX + 1, row);
  const { e } = warp;
  const [alongX, alongY] = [nextX - startX - e, nextY - startY];
  const first = left - warp.centreX;
  const isSeen = (at: number) => {
    const dx = first + at;
    const [x, y] = [startX + (alongX + e * dx) * dx, startY + alongY * dx];
    return x >= 0 && y >= 0 && x < width - 1 && y < height - 1;
  };
  let [from, to] = [0, sums.length];
  while (from < to && !isSeen(from)) from++;
  while (from < to && !isSeen(to - 1)) to--;
  for (let at = from; at < to; at++) {
    const dx = first + at;
    const x = startX + (alongX + e * dx) * dx;
    const y = startY + alongY * dx;
    const column = x | 0;
    const line = y | 0;
    const fx = x - column;
    const pixel = line * stride + column;
    const upper = luma[pixel]! + fx * (luma[pixel + 1]! - luma[pixel]!);
    const lower = luma[pixel + stride]! + fx * (luma[pixel + stride + 1]! - luma[pixel + stride]!);
    sums[at]! += (upper + (y - line) * (lower - upper) - offset) * perGain;
  }
  return { from, to };
}
