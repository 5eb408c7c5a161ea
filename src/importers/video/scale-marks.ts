import type { Place } from "./dial-geometry.js";
import { type GrayPlane, sampleSmooth } from "./smooth-sampling.js";

/** A printed stroke of the scale as seen from the pivot. */
export interface ScaleStroke {
  readonly angleRad: number;
  readonly uAngleRad: number;
  /** Contrast against its surroundings, gray levels, positive. */
  readonly contrast: number;
  /** Gray level at half of its height. */
  readonly halfLevel: number;
  /** Width at half of its height. */
  readonly widthRad: number;
}

/** Radii over which strokes are looked at, and their tone. */
export interface StrokeBand {
  readonly fromPx: number;
  readonly toPx: number;
  readonly tone: "dark" | "light";
}

const STEP_PX = 0.35;

/**
 * Strokes between two angles (from < to), seen in the mean along the radius; the place of each is the middle between its
 * edges at half height.
 */
export function scaleStrokes(
  plane: GrayPlane,
  pivot: Place,
  band: (angleRad: number) => StrokeBand,
  fromRad: number,
  toRad: number,
): ScaleStroke[] {
  const first = band((fromRad + toRad) / 2);
  const stepRad = STEP_PX / ((first.fromPx + first.toPx) / 2);
  const count = Math.ceil((toRad - fromRad) / stepRad) + 1;
  const profile = new Float64Array(count);
  const sign = first.tone === "dark" ? -1 : 1;
  for (let index = 0; index < count; index++) {
    const angle = fromRad + index * stepRad;
    const { fromPx, toPx } = band(angle);
    const rings = Math.max(2, Math.round((toPx - fromPx) / 1.2));
    let sum = 0;
    for (let ring = 0; ring < rings; ring++) {
      const radius = fromPx + ((ring + 0.5) / rings) * (toPx - fromPx);
      sum += sampleSmooth(plane, pivot.x + radius * Math.cos(angle), pivot.y + radius * Math.sin(angle));
    }
    profile[index] = (sign * sum) / rings;
  }
  return strokesIn(profile, fromRad, stepRad, sign);
}

function strokesIn(profile: Float64Array, fromRad: number, stepRad: number, sign: -1 | 1): ScaleStroke[] {
  const found: ScaleStroke[] = [];
  const wide = Math.round(9 / STEP_PX);
  for (let index = 2; index < profile.length - 2; index++) {
    const height = profile[index]!;
    if (!(height >= profile[index - 1]! && height > profile[index + 1]!)) continue;
    const left = lowest(profile, Math.max(0, index - wide), index);
    const right = lowest(profile, index, Math.min(profile.length - 1, index + wide));
    const contrast = height - Math.max(left, right);
    if (contrast < 2.5) continue;
    const half = height - 0.5 * contrast;
    const from = crossing(profile, index, -1, half);
    const to = crossing(profile, index, 1, half);
    if (from === null || to === null) continue;
    const angleRad = fromRad + ((from + to) / 2) * stepRad;
    // A flat top has several highest places.
    const last = found.at(-1);
    if (last !== undefined && angleRad - last.angleRad < 3 * stepRad) continue;
    found.push({
      angleRad,
      widthRad: (to - from) * stepRad,
      uAngleRad: stepRad * (0.15 + 1 / contrast),
      contrast,
      halfLevel: sign * half,
    });
  }
  return found;
}

function lowest(profile: Float64Array, from: number, to: number): number {
  let low = Number.POSITIVE_INFINITY;
  for (let index = from; index <= to; index++) low = Math.min(low, profile[index]!);
  return low;
}

function crossing(profile: Float64Array, from: number, step: -1 | 1, level: number): number | null {
  for (let index = from; index > 0 && index < profile.length - 1; index += step) {
    const next = profile[index + step]!;
    if (next < level) return index + (step * (profile[index]! - level)) / (profile[index]! - next);
  }
  return null;
}

/** A mark that a person pointed out, moved onto the printed stroke where there is one. */
export interface SnappedMark extends Place {
  readonly volts: number;
  readonly angleRad: number;
  readonly uAngleRad: number;
  readonly radiusPx: number;
  readonly snapped: boolean;
}

/** How far off a click may lie, pixels. */
export const CLICK_REACH_PX = 4.5;
/** Half of a stroke's height lies at least this share of its contrast beyond the paper, or it is a gap between strokes. */
const BEYOND_PAPER = 0.1;

/**
 * Moves each click to the nearest printed stroke beside it, outside or inside the scale line, whichever shows strokes at
 * most of the clicks. A click without a stroke keeps its place, with a doubt as large as it may lie off.
 */
export function snapMarks(
  plane: GrayPlane,
  pivot: Place,
  marks: readonly (Place & { readonly volts: number })[],
): { marks: SnappedMark[]; band: ((radiusPx: number) => StrokeBand) | null } {
  const polar = marks.map((mark) => ({
    ...mark,
    angleRad: Math.atan2(mark.y - pivot.y, mark.x - pivot.x),
    radiusPx: Math.hypot(mark.x - pivot.x, mark.y - pivot.y),
  }));
  const scalePx = polar.reduce((sum, mark) => sum + mark.radiusPx, 0) / polar.length;
  let best: { found: (ScaleStroke | null)[]; score: number; band: ((radiusPx: number) => StrokeBand) | null } = {
    found: marks.map(() => null),
    score: 0,
    band: null,
  };
  for (const tone of ["dark", "light"] as const) {
    for (const [from, to] of [
      [0.015, 0.055],
      [-0.055, -0.015],
    ] as const) {
      const band = (radiusPx: number): StrokeBand => ({
        fromPx: radiusPx + from * scalePx + Math.sign(from),
        toPx: radiusPx + to * scalePx + Math.sign(to),
        tone,
      });
      const found = polar.map((mark) => nearestStroke(plane, pivot, mark, band(mark.radiusPx)));
      const score = found.reduce((sum, stroke) => sum + Math.min(stroke?.contrast ?? 0, 40), 0);
      if (score > 1.15 * best.score) best = { found, score, band };
    }
  }
  const seen = best.found.filter((stroke) => stroke !== null);
  const typical = seen.map((stroke) => stroke.contrast).sort((a, b) => a - b)[seen.length >> 1] ?? 0;
  return {
    band: best.band,
    marks: polar.map((mark, index) => {
      const stroke = best.found[index] ?? null;
      if (stroke === null || stroke.contrast < 0.25 * typical)
        return { ...mark, uAngleRad: CLICK_REACH_PX / mark.radiusPx, snapped: false };
      return {
        ...mark,
        x: pivot.x + mark.radiusPx * Math.cos(stroke.angleRad),
        y: pivot.y + mark.radiusPx * Math.sin(stroke.angleRad),
        angleRad: stroke.angleRad,
        uAngleRad: Math.max(stroke.uAngleRad, 0.08 / mark.radiusPx),
        snapped: true,
      };
    }),
  };
}

function nearestStroke(
  plane: GrayPlane,
  pivot: Place,
  mark: { angleRad: number; radiusPx: number },
  band: StrokeBand,
): ScaleStroke | null {
  const paper = paperLevel(plane, pivot, mark, band);
  const reach = (CLICK_REACH_PX + 6) / mark.radiusPx;
  const sign = band.tone === "dark" ? -1 : 1;
  const isPrint = ({ halfLevel, contrast }: ScaleStroke) => sign * (halfLevel - paper) > BEYOND_PAPER * contrast;
  const strokes = scaleStrokes(plane, pivot, () => band, mark.angleRad - reach, mark.angleRad + reach).filter(isPrint);
  const strongest = Math.max(0, ...strokes.map((stroke) => stroke.contrast));
  const near = strokes.filter(
    (stroke) =>
      stroke.contrast > 0.45 * strongest && Math.abs(stroke.angleRad - mark.angleRad) * mark.radiusPx < CLICK_REACH_PX,
  );
  near.sort((a, b) => Math.abs(a.angleRad - mark.angleRad) - Math.abs(b.angleRad - mark.angleRad));
  return near[0] ?? null;
}

/** Gray level of the ring near a mark, most of which is paper: what shows between strokes is no stroke of the other tone. */
function paperLevel(plane: GrayPlane, pivot: Place, mark: { angleRad: number }, band: StrokeBand): number {
  const levels: number[] = [];
  const middlePx = (band.fromPx + band.toPx) / 2;
  for (let turn = -0.25; turn < 0.25; turn += 1 / middlePx) {
    const angle = mark.angleRad + turn;
    let sum = 0;
    for (const share of [0.1, 0.3, 0.5, 0.7, 0.9]) {
      const radius = band.fromPx + share * (band.toPx - band.fromPx);
      sum += sampleSmooth(plane, pivot.x + radius * Math.cos(angle), pivot.y + radius * Math.sin(angle));
    }
    levels.push(sum / 5);
  }
  const seen = levels.filter(Number.isFinite).sort((a, b) => a - b);
  return seen[seen.length >> 1] ?? Number.NaN;
}
