import type { Place } from "./dial-geometry.js";
import { type GrayPlane, sampleSmooth } from "./smooth-sampling.js";

/** The axis of one printed stroke, and by how much it misses the point from which it was looked at. */
export interface StrokeLine {
  readonly angleRad: number;
  /** Distance of the axis from the point, along the stroke's normal (-sin, cos), pixels. */
  readonly sidePx: number;
  readonly uSidePx: number;
}

const STEP_PX = 0.4;
/** Strokes are looked for this far to each side, pixels. */
const REACH_PX = 5;
/** No ring's middle is known better than this, pixels. */
const LEAST_SCATTER_PX = 0.05;
/** Rings that the scale's arc or a gap may cover without ending a stroke, pixels. */
const LONGEST_BREAK_PX = 6;

/**
 * The axis of the stroke that stands at an angle from the point, through its middles ring by ring (from 0.9 to 1.12 of
 * the radius of the scale); null where too little of a stroke is seen.
 */
export function strokeLine(
  plane: GrayPlane,
  point: Place,
  stroke: { readonly angleRad: number; readonly radiusPx: number; readonly tone: "dark" | "light" },
): StrokeLine | null {
  const { angleRad, radiusPx } = stroke;
  const rings: Ring[] = [];
  for (let radius = 0.9 * radiusPx; radius <= 1.12 * radiusPx; radius += 1) {
    const ring = ringMiddle(plane, point, { ...stroke, radiusPx: radius });
    if (ring !== null) rings.push(ring);
  }
  const clear = connected(onlyClear(rings), radiusPx);
  const line = lineThrough(clear);
  if (line === null) return null;
  return { angleRad: angleRad + line.turn, sidePx: line.side, uSidePx: line.uSide };
}

interface Ring {
  readonly radius: number;
  /** Sideways place of the stroke's middle, pixels. */
  readonly middle: number;
  readonly contrast: number;
}

/** Where the stroke crosses one ring: the middle between its edges at half of its height. */
function ringMiddle(
  plane: GrayPlane,
  point: Place,
  { angleRad, radiusPx, tone }: { angleRad: number; radiusPx: number; tone: "dark" | "light" },
): Ring | null {
  const sign = tone === "dark" ? -1 : 1;
  const [cos, sin] = [Math.cos(angleRad), Math.sin(angleRad)];
  const half = Math.ceil(REACH_PX / STEP_PX);
  const row = Float64Array.from({ length: 2 * half + 1 }, (_, index) => {
    const side = (index - half) * STEP_PX;
    return sign * sampleSmooth(plane, point.x + radiusPx * cos - side * sin, point.y + radiusPx * sin + side * cos);
  });
  let top = half;
  const near = Math.round(2.5 / STEP_PX);
  for (let index = half - near; index <= half + near; index++) if (row[index]! > row[top]!) top = index;
  const contrast = row[top]! - Math.max(Math.min(...row.subarray(0, top)), Math.min(...row.subarray(top)));
  if (!(contrast > 2)) return null;
  const level = row[top]! - contrast / 2;
  const left = crossing(row, top, -1, level);
  const right = crossing(row, top, 1, level);
  if (left === null || right === null) return null;
  return { radius: radiusPx, middle: ((left + right) / 2 - half) * STEP_PX, contrast };
}

function crossing(row: Float64Array, from: number, step: -1 | 1, level: number): number | null {
  for (let index = from; index + step >= 0 && index + step < row.length; index += step) {
    const [here, next] = [row[index]!, row[index + step]!];
    if (next < level) return index + (step * (here - level)) / (here - next);
  }
  return null;
}

/** Rings with at least half of the contrast of the stroke's clearest third. */
function onlyClear(rings: readonly Ring[]): Ring[] {
  const sorted = rings.map((ring) => ring.contrast).sort((a, b) => b - a);
  const clear = sorted[Math.floor(sorted.length / 3)] ?? 0;
  return rings.filter((ring) => ring.contrast > 0.5 * clear);
}

/** The longest run of rings without a long break; that nearest the scale's radius where several are as long. */
function connected(rings: readonly Ring[], radiusPx: number): Ring[] {
  const runs: Ring[][] = [];
  for (const ring of rings) {
    const run = runs.at(-1);
    if (run !== undefined && ring.radius - run.at(-1)!.radius <= LONGEST_BREAK_PX) run.push(ring);
    else runs.push([ring]);
  }
  const worth = (run: Ring[]) => run.length - 0.2 * Math.min(...run.map((ring) => Math.abs(ring.radius - radiusPx)));
  return runs.sort((first, second) => worth(second) - worth(first))[0] ?? [];
}

/** Straight line through the middles, outliers left out: sideways place = side + turn * radius. */
function lineThrough(rings: readonly Ring[]): { turn: number; side: number; uSide: number } | null {
  let kept = rings;
  for (let round = 0; round < 4; round++) {
    const n = kept.length;
    if (n < 5) return null;
    const meanR = kept.reduce((sum, ring) => sum + ring.radius, 0) / n;
    const meanS = kept.reduce((sum, ring) => sum + ring.middle, 0) / n;
    const rr = kept.reduce((sum, ring) => sum + (ring.radius - meanR) ** 2, 0);
    const turn = kept.reduce((sum, ring) => sum + (ring.radius - meanR) * (ring.middle - meanS), 0) / rr;
    const side = meanS - turn * meanR;
    const offs = rings.map((ring) => Math.abs(ring.middle - side - turn * ring.radius));
    const sorted = kept.map((ring) => Math.abs(ring.middle - side - turn * ring.radius)).sort((a, b) => a - b);
    const scatter = Math.max(LEAST_SCATTER_PX, 1.48 * sorted[n >> 1]!);
    if (round === 3) {
      if (scatter > 0.6 || kept.at(-1)!.radius - kept[0]!.radius < 5) return null;
      // The smoothing of the samples lets about every second ring say something of its own.
      return { turn, side, uSide: scatter * Math.sqrt(2 * (1 / n + meanR ** 2 / rr)) };
    }
    kept = rings.filter((_, index) => offs[index]! <= 3 * scatter);
  }
  return null;
}
