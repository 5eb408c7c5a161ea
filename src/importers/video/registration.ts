import type { PixelArea } from "./frame.js";
import {
  addEquations,
  addRightSides,
  EQUATION_BLOCK as BLOCK,
  emptyEquations,
  equationColumns,
  type NormalEquations,
  product,
  solveEquations,
} from "./normal-equations.js";
import { agreement } from "./registration-agreement.js";
import { BLURS, type RegistrationTemplate, type TemplatePoints } from "./registration-template.js";
import { type FramePlanes, sampleSmoothEach } from "./smooth-sampling.js";
import { isPlausible, type Warp } from "./warp.js";

/** How a frame fits the reference. */
export interface Registration {
  readonly warp: Warp;
  /** Contrast of the frame against the reference. */
  readonly gain: number;
  readonly offset: number;
  /** Blur beyond the reference's: variance, block means squared; negative where the frame is sharper. */
  readonly blur: number;
  /** Robust size of the residual, gray levels of the frame. */
  readonly residual: number;
  /** Fraction of the reference's contrast at the chosen points that the fit explains; 1 is perfect. */
  readonly match: number;
  /** Fraction of the chosen points that lie in the picture and agree with the reference. */
  readonly agreeing: number;
  /**
   * Covariance of the warp if the points' noise were independent, pixels squared at the dial's rim, row by row: shift, affine
   * part and bends as in `warpParts`.
   */
  readonly covariance: Float64Array;
}

/** From where a fit sets out. */
export type RegistrationStart = Pick<Registration, "warp" | "gain" | "offset" | "blur" | "residual">;

interface Level {
  readonly points: TemplatePoints;
  readonly planes: FramePlanes;
  readonly area: PixelArea;
}

type Mutable<T> = { -readonly [K in keyof T]: T[K] };
type State = Mutable<Omit<RegistrationStart, "warp">> & { readonly warp: Mutable<Warp> };

/**
 * Robust weights fall off beyond this many robust standard deviations; three times as many in the first steps while the
 * dial still moves by more than this, since print that is off must pull and not pass for an outlier.
 */
const OUTLIER_LIMIT = 4;
const WIDE_STEPS = 3;
const WIDE_PX = 0.2;
/** A fit has come to rest when a step moves the rim by less than this, and has not when the last one moved it by more than that. */
const STILL_PX = 0.005;
const OPEN_PX = 0.02;
/** After steps smaller than this the matrix of the equations stays as it is, and only their right side is summed again. */
const KEEP_MATRIX_PX = 0.1;
/** What blur can be told from the reference's, pixels squared. */
const LEAST_BLUR = -0.25;
const MOST_BLUR = 5;
/** Bends of a hand-held view move the dial's rim by about this, pixels; known beforehand. */
const USUAL_BEND_PX = 3;

/**
 * Finds the warp, gain and offset that carry the reference onto a frame, by Gauss-Newton steps on block means of
 * 4 x 4 pixels (affine) and then of 2 x 2; what disagrees (a hand, a reflection) loses its weight. Null when nothing fits.
 */
export function registerFrame(
  template: RegistrationTemplate,
  frame: { readonly planes: FramePlanes; readonly area: PixelArea },
  start: RegistrationStart,
  steps: { readonly coarse: number; readonly fine: number } = { coarse: 10, fine: 24 },
): Registration | null {
  const { gain, offset, blur, residual } = start;
  const state: State = { warp: { ...start.warp }, gain, offset, blur, residual };
  const isLost = (moved: number | null) => moved === null || !isPlausible(state.warp, template.lengthPx);
  const coarse = { points: template.coarse, ...frame };
  const fine = { points: template.fine, ...frame };
  for (let step = 0; step < steps.coarse; step++) {
    const moved = gaussNewtonStep(template, coarse, state, { size: AFFINE, limit: OUTLIER_LIMIT });
    if (isLost(moved)) return null;
    if (moved! < 0.05) break;
  }
  let last = Number.POSITIVE_INFINITY;
  let share = 1;
  for (let step = 0; step < steps.fine; step++) {
    const isWide = step < WIDE_STEPS && last > WIDE_PX;
    const limit = isWide ? 3 * OUTLIER_LIMIT : OUTLIER_LIMIT;
    const moved = gaussNewtonStep(template, fine, state, {
      size: WHOLE,
      limit,
      share,
      keepsMatrix: last < KEEP_MATRIX_PX,
    });
    if (isLost(moved)) return null;
    // Small steps that do not shrink go to and fro about the place, since weights change with them: half of one ends there.
    if (last < KEEP_MATRIX_PX && moved! > 0.8 * last) share = 0.5;
    last = moved!;
    if (!isWide && last < STILL_PX) break;
  }
  // A fit that is still under way would give a needle that is wrong by as much.
  if (last > OPEN_PX) return null;
  if (template.last !== null) {
    const dense = { points: template.last, ...frame };
    if (isLost(gaussNewtonStep(template, dense, state, { size: WHOLE, limit: OUTLIER_LIMIT }))) return null;
  }
  return { ...state, ...agreement(template, frame, state), covariance: warpCovariance(state.residual) };
}

/** The part of the last matrix that belongs to the warp. */
function warpCovariance(residual: number): Float64Array {
  const count = WHOLE - 3;
  return Float64Array.from({ length: count * count }, (_, at) => {
    const row = 2 + Math.floor(at / count);
    return residual * residual * keptInverse[row * WHOLE + 2 + (at % count)]!;
  });
}

/** Unknowns in order: gain, offset, shift (2), affine part (4), bends (5), blur. */
const AFFINE = 8;
const BENDS = ["e", "m", "p", "n", "q"] as const;
const WHOLE = AFFINE + BENDS.length + 1;
const [blockX, blockY, seen] = [0, 1, 2].map(() => new Float64Array(BLOCK)) as [
  Float64Array,
  Float64Array,
  Float64Array,
];
const columns = equationColumns(WHOLE);
let keptInverse: Float64Array = new Float64Array(0);

/** One step; returns how far it moved the rim of the dial in pixels, or null when the equations cannot be solved. */
function gaussNewtonStep(
  template: RegistrationTemplate,
  level: Level,
  state: State,
  {
    size,
    limit,
    share = 1,
    keepsMatrix = false,
  }: {
    readonly size: typeof AFFINE | typeof WHOLE;
    readonly limit: number;
    /** How much of the step is taken. */
    readonly share?: number;
    readonly keepsMatrix?: boolean;
  },
): number | null {
  const { points, area } = level;
  const { centreX, centreY, lengthPx } = template;
  const { shiftX, shiftY, a, b, c, d, e, m, p, n, q } = state.warp;
  const plane = points.factor === 2 ? level.planes.half : level.planes.quarter;
  const shrink = 1 / points.factor;
  const originX = centreX + shiftX - area.x - (points.factor - 1) / 2;
  const originY = centreY + shiftY - area.y - (points.factor - 1) / 2;
  const determinant = (1 + a) * (1 + d) - b * c;
  const [backXX, backXY] = [(state.gain * (1 + d)) / determinant, (-state.gain * c) / determinant];
  const [backYX, backYY] = [(-state.gain * b) / determinant, (state.gain * (1 + a)) / determinant];
  const sums = emptyEquations(size);
  const scale = limit * Math.max(state.residual, 0.8);
  let used = 0;
  let absolute = 0;
  const { pointCount, fromCentreX, fromCentreY, values, slopesX, slopesY } = points;
  const level0 = size === WHOLE ? blurInterval(state.blur) : 0;
  const width = size === WHOLE ? BLURS[level0 + 1]! - BLURS[level0]! : 1;
  const part = size === WHOLE ? (state.blur - BLURS[level0]!) / width : 0;
  const near = level0 * pointCount;
  const far = size === WHOLE ? near + pointCount : near;
  for (let from = 0; from < pointCount; from += BLOCK) {
    const blockCount = Math.min(BLOCK, pointCount - from);
    for (let at = 0; at < blockCount; at++) {
      const dx = fromCentreX[from + at]!;
      const dy = fromCentreY[from + at]!;
      blockX[at] = (originX + (1 + a + e * dx + m * dy) * dx + (b + p * dy) * dy) * shrink;
      blockY[at] = (originY + (c + n * dy) * dx + (1 + d + q * dy) * dy) * shrink;
    }
    sampleSmoothEach(plane, blockX, blockY, blockCount, seen);
    let count = 0;
    for (let at = 0; at < blockCount; at++) {
      const value = seen[at]!;
      if (Number.isNaN(value)) continue;
      const index = from + at;
      const step = values[far + index]! - values[near + index]!;
      const reference = values[near + index]! + part * step;
      const error = value - state.gain * reference - state.offset;
      const beyond = error / scale;
      const weight = 1 / (1 + beyond * beyond);
      used += weight;
      absolute += weight * Math.abs(error);
      // The reference's slope, carried into the frame by the inverse of the warp's affine part.
      const ownX = slopesX[near + index]! + part * (slopesX[far + index]! - slopesX[near + index]!);
      const ownY = slopesY[near + index]! + part * (slopesY[far + index]! - slopesY[near + index]!);
      const root = Math.sqrt(weight);
      const slopeX = root * (backXX * ownX + backXY * ownY);
      const slopeY = root * (backYX * ownX + backYY * ownY);
      const ux = fromCentreX[index]! / lengthPx;
      const uy = fromCentreY[index]! / lengthPx;
      const to = count++;
      columns[to] = -root * error;
      columns[to + BLOCK] = (-root * (reference - 128)) / 64;
      columns[to + 2 * BLOCK] = -root;
      columns[to + 3 * BLOCK] = slopeX;
      columns[to + 4 * BLOCK] = slopeY;
      columns[to + 5 * BLOCK] = slopeX * ux;
      columns[to + 6 * BLOCK] = slopeX * uy;
      columns[to + 7 * BLOCK] = slopeY * ux;
      columns[to + 8 * BLOCK] = slopeY * uy;
      if (size === AFFINE) continue;
      columns[to + 9 * BLOCK] = slopeX * ux * ux;
      columns[to + 10 * BLOCK] = slopeX * ux * uy;
      columns[to + 11 * BLOCK] = slopeX * uy * uy;
      columns[to + 12 * BLOCK] = slopeY * ux * uy;
      columns[to + 13 * BLOCK] = slopeY * uy * uy;
      columns[to + 14 * BLOCK] = (-root * state.gain * step) / width;
    }
    if (keepsMatrix) addRightSides(sums, columns, count);
    else addEquations(sums, columns, count);
  }
  if (used < 40) return null;
  if (size === WHOLE) holdBend(sums, state, lengthPx);
  state.residual = (1.25 * absolute) / used;
  if (keepsMatrix) {
    const step = product(keptInverse, sums.right);
    return moveBy(
      state,
      step.map((part) => share * part),
      lengthPx,
    );
  }
  const solved = solveEquations(sums);
  if (solved === null) return null;
  keptInverse = solved.inverse;
  return moveBy(state, solved.solution, lengthPx);
}

/** The interval between two of the reference's blurs in which one lies; the ends reach on. */
function blurInterval(variance: number): number {
  let level = 0;
  while (level < BLURS.length - 2 && variance > BLURS[level + 1]!) level++;
  return level;
}

/** Bends are held near zero by what is usual, which tells where the dial itself hardly does. */
function holdBend(sums: NormalEquations, state: State, lengthPx: number): void {
  const weight = (Math.max(state.residual, 0.8) / USUAL_BEND_PX) ** 2;
  BENDS.forEach((name, index) => {
    const at = AFFINE + index;
    sums.matrix[at * sums.size + at]! += weight;
    sums.right[at]! -= weight * state.warp[name] * lengthPx ** 2;
  });
  // On a dial without any curvature the blur would be anything.
  sums.matrix[(WHOLE - 1) * (WHOLE + 1)]! += 1;
}

function moveBy(state: State, step: Float64Array, lengthPx: number): number {
  const { warp } = state;
  state.gain += step[0]! / 64;
  state.offset += step[1]! - (128 / 64) * step[0]!;
  warp.shiftX += step[2]!;
  warp.shiftY += step[3]!;
  warp.a += step[4]! / lengthPx;
  warp.b += step[5]! / lengthPx;
  warp.c += step[6]! / lengthPx;
  warp.d += step[7]! / lengthPx;
  let moved = Math.hypot(step[2]!, step[3]!) + Math.hypot(step[4]!, step[5]!, step[6]!, step[7]!);
  if (step.length === WHOLE) {
    BENDS.forEach((name, index) => {
      warp[name] += step[AFFINE + index]! / lengthPx ** 2;
    });
    moved += Math.hypot(...step.subarray(AFFINE, AFFINE + BENDS.length));
    state.blur = Math.max(LEAST_BLUR, Math.min(MOST_BLUR, state.blur + step[WHOLE - 1]!));
  }
  return moved;
}
