import type { PixelArea } from "./frame.js";
import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";
import type { RegistrationTemplate, TemplatePoints } from "./registration-template.js";
import { type FramePlanes, sampleSmooth } from "./smooth-sampling.js";
import { isPlausible, type Warp } from "./warp.js";

/** How a frame fits the reference. */
export interface Registration {
  readonly warp: Warp;
  /** Contrast of the frame against the reference. */
  readonly gain: number;
  readonly offset: number;
  /** Robust size of the residual, gray levels of the frame. */
  readonly residual: number;
  /** Fraction of the reference's contrast at the chosen points that the fit explains; 1 is perfect. */
  readonly match: number;
  /** Fraction of the chosen points that lie in the picture and agree with the reference. */
  readonly agreeing: number;
}

interface Level {
  readonly points: TemplatePoints;
  readonly planes: FramePlanes;
  readonly area: PixelArea;
}

interface State {
  shiftX: number;
  shiftY: number;
  a: number;
  b: number;
  c: number;
  d: number;
  gain: number;
  offset: number;
  residual: number;
}

/** Robust weights fall off beyond this many robust standard deviations. */
const OUTLIER_LIMIT = 2.5;

/**
 * Finds the affine warp, gain and offset that carry the reference onto a frame, by Gauss-Newton steps on block means of
 * 4 x 4 pixels and then on pixels; what disagrees (a hand, a reflection) loses its weight. Null when nothing fits.
 */
export function registerFrame(
  template: RegistrationTemplate,
  frame: { readonly planes: FramePlanes; readonly area: PixelArea },
  start: Registration,
  steps: { readonly coarse: number; readonly fine: number } = { coarse: 10, fine: 14 },
): Registration | null {
  const state: State = { ...start.warp, gain: start.gain, offset: start.offset, residual: start.residual };
  const asWarp = (): Warp => ({
    centreX: template.centreX,
    centreY: template.centreY,
    shiftX: state.shiftX,
    shiftY: state.shiftY,
    a: state.a,
    b: state.b,
    c: state.c,
    d: state.d,
  });
  const coarse = { points: template.coarse, ...frame };
  const fine = { points: template.fine, ...frame };
  for (let step = 0; step < steps.coarse; step++) {
    const moved = gaussNewtonStep(template, coarse, state);
    if (moved === null || !isPlausible(asWarp())) return null;
    if (moved < 0.05) break;
  }
  let last = Number.POSITIVE_INFINITY;
  for (let step = 0; step < steps.fine; step++) {
    const moved = gaussNewtonStep(template, fine, state);
    if (moved === null || !isPlausible(asWarp())) return null;
    last = moved;
    if (step > 0 && moved < 0.002) break;
  }
  // A fit that is still under way would give a needle that is wrong by as much.
  if (last > 0.02) return null;
  return { warp: asWarp(), ...agreement(template, fine, state) };
}

/** One step; returns how far it moved the rim of the dial in pixels, or null when the equations cannot be solved. */
function gaussNewtonStep(template: RegistrationTemplate, level: Level, state: State): number | null {
  const { points, area } = level;
  const { centreX, centreY, lengthPx } = template;
  const plane = points.factor === 1 ? level.planes.full : level.planes.quarter;
  const shrink = 1 / points.factor;
  const originX = centreX + state.shiftX - area.x - (points.factor - 1) / 2;
  const originY = centreY + state.shiftY - area.y - (points.factor - 1) / 2;
  const p = 1 + state.a;
  const s = 1 + state.d;
  const determinant = p * s - state.b * state.c;
  const sums = emptyEquations(8);
  const row = new Float64Array(8);
  const scale = OUTLIER_LIMIT * Math.max(state.residual, 0.8);
  let used = 0;
  let absolute = 0;
  for (let index = 0; index < points.pointCount; index++) {
    const dx = points.fromCentreX[index]!;
    const dy = points.fromCentreY[index]!;
    const value = sampleSmooth(
      plane,
      (originX + p * dx + state.b * dy) * shrink,
      (originY + state.c * dx + s * dy) * shrink,
    );
    if (Number.isNaN(value)) continue;
    const reference = points.values[index]!;
    const error = value - state.gain * reference - state.offset;
    const beyond = error / scale;
    const weight = 1 / (1 + beyond * beyond);
    used += weight;
    absolute += weight * Math.abs(error);
    // The reference's slope, carried into the frame by the inverse of the warp.
    const slopeX = (state.gain * (s * points.slopesX[index]! - state.c * points.slopesY[index]!)) / determinant;
    const slopeY = (state.gain * (p * points.slopesY[index]! - state.b * points.slopesX[index]!)) / determinant;
    const ux = dx / lengthPx;
    const uy = dy / lengthPx;
    row[0] = slopeX;
    row[1] = slopeY;
    row[2] = slopeX * ux;
    row[3] = slopeX * uy;
    row[4] = slopeY * ux;
    row[5] = slopeY * uy;
    row[6] = -(reference - 128) / 64;
    row[7] = -1;
    addEquation(sums, row, -error, weight);
  }
  if (used < 40) return null;
  const solved = solveEquations(sums);
  if (solved === null) return null;
  const step = solved.solution;
  state.shiftX += step[0]!;
  state.shiftY += step[1]!;
  state.a += step[2]! / lengthPx;
  state.b += step[3]! / lengthPx;
  state.c += step[4]! / lengthPx;
  state.d += step[5]! / lengthPx;
  state.gain += step[6]! / 64;
  state.offset += step[7]! - (128 / 64) * step[6]!;
  state.residual = (1.25 * absolute) / used;
  return Math.hypot(step[0]!, step[1]!) + Math.hypot(step[2]!, step[3]!, step[4]!, step[5]!);
}

function agreement(
  template: RegistrationTemplate,
  level: Level,
  state: State,
): Pick<Registration, "gain" | "offset" | "residual" | "match" | "agreeing"> {
  const { points, area, planes } = level;
  const errors = new Float64Array(points.pointCount);
  let mean = 0;
  for (const value of points.values) mean += value / points.pointCount;
  let contrast = 0;
  let count = 0;
  for (let index = 0; index < points.pointCount; index++) {
    const dx = points.fromCentreX[index]!;
    const dy = points.fromCentreY[index]!;
    const value = sampleSmooth(
      planes.full,
      template.centreX + state.shiftX - area.x + (1 + state.a) * dx + state.b * dy,
      template.centreY + state.shiftY - area.y + state.c * dx + (1 + state.d) * dy,
    );
    if (Number.isNaN(value)) continue;
    const error = Math.abs(value - state.gain * points.values[index]! - state.offset);
    errors[count++] = error;
    contrast += Math.abs(points.values[index]! - mean);
  }
  contrast *= Math.abs(state.gain) / Math.max(1, count);
  const sorted = errors.subarray(0, count).sort();
  const residual = 1.48 * (sorted[count >> 1] ?? 0);
  const limit = Math.max(4 * residual, 0.35 * contrast);
  let within = 0;
  while (within < count && sorted[within]! < Math.min(limit, 0.6 * contrast)) within++;
  return {
    gain: state.gain,
    offset: state.offset,
    residual,
    match: contrast > 0 ? 1 - residual / contrast : 0,
    agreeing: within / Math.max(1, points.pointCount),
  };
}
