import type { PixelArea } from "./frame.js";
import type { FramePixels } from "./frame-pixels.js";
import { type NormalEquations, product, solveEquations } from "./normal-equations.js";
import { agreement } from "./registration-agreement.js";
import { BLURS, type RegistrationTemplate, type TemplatePoints } from "./registration-template.js";
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
  readonly pixels: FramePixels;
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
  frame: { readonly pixels: FramePixels; readonly area: PixelArea },
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
const WHOLE = 14;
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
  const { points, pixels, area } = level;
  const { centreX, centreY, lengthPx } = template;
  const { shiftX, shiftY, a, b, c, d, e, m, p, n, q } = state.warp;
  const determinant = (1 + a) * (1 + d) - b * c;
  const perDeterminant = state.gain / determinant;
  const near = size === WHOLE ? blurInterval(state.blur) : 0;
  const far = size === WHOLE ? near + 1 : near;
  const width = BLURS[far]! - BLURS[near]! || 1;
  const { equations, used, absolute } = pixels.sum(points, {
    numbers: [
      ...[centreX + shiftX - area.x - (points.factor - 1) / 2, centreY + shiftY - area.y - (points.factor - 1) / 2],
      ...[1 + a, e, m, b, p],
      ...[c, n, 1 + d, q],
      1 / points.factor,
      ...[state.gain, state.offset, size === WHOLE ? (state.blur - BLURS[near]!) / width : 0],
      1 / (limit * Math.max(state.residual, 0.8)),
      ...[perDeterminant * (1 + d), -perDeterminant * c, -perDeterminant * b, perDeterminant * (1 + a)],
      ...[1 / lengthPx, state.gain / width],
    ],
    ...{ size, near, far, onlyRight: keepsMatrix },
  });
  if (used < 40) return null;
  if (size === WHOLE) holdBend(equations, state, lengthPx);
  state.residual = (1.25 * absolute) / used;
  if (keepsMatrix) {
    const step = product(keptInverse, equations.right);
    return moveBy(
      state,
      step.map((part) => share * part),
      lengthPx,
    );
  }
  const solved = solveEquations(equations);
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
