import { type FramePlanes, type GrayPlane, sampleSmooth } from "./smooth-sampling.js";

/** How many pixels of the frame lie along one of the plane. */
export type Shrink = 2 | 4;

/** Chosen points of the reference at one level: places from the centre, smoothed values and their slopes per pixel. */
export interface TemplatePoints {
  readonly factor: Shrink;
  readonly pointCount: number;
  readonly fromCentreX: Float64Array;
  readonly fromCentreY: Float64Array;
  /** Point by point at each of the blurs of `BLURS`, one blur after the other. */
  readonly values: Float64Array;
  readonly slopesX: Float64Array;
  readonly slopesY: Float64Array;
}

/** What every frame is registered to. */
export interface RegistrationTemplate {
  readonly centreX: number;
  readonly centreY: number;
  /** A length that makes the unknowns of the fit alike in size, pixels. */
  readonly lengthPx: number;
  readonly fine: TemplatePoints;
  readonly coarse: TemplatePoints;
}

/**
 * Chooses the points with the steepest slopes, spread over the picture so that every part of the dial has a say.
 *
 * `wanted(x, y)` leaves out what moves by itself, such as the needle.
 */
export function registrationTemplate(
  planes: FramePlanes,
  centre: { x: number; y: number; lengthPx: number },
  wanted: (x: number, y: number) => boolean,
  finePointCount = 2000,
): RegistrationTemplate {
  return {
    centreX: centre.x,
    centreY: centre.y,
    lengthPx: centre.lengthPx,
    fine: templatePoints(planes.half, 2, centre, wanted, finePointCount),
    coarse: templatePoints(planes.quarter, 4, centre, wanted, 500),
  };
}

/** Blurs beyond the reference's own at which a frame may see it: variances, pixels squared. */
export const BLURS = [0, 0.35, 1, 2.5] as const;

/** `sampleSmooth` of the plane seen through a further Gaussian blur; what lies outside the plane has no say. */
function sampleBlurred(plane: GrayPlane, x: number, y: number, variance: number): number {
  if (variance === 0) return sampleSmooth(plane, x, y);
  const reach = Math.ceil(2.5 * Math.sqrt(variance));
  let [sum, weights] = [0, 0];
  for (let down = -reach; down <= reach; down++) {
    for (let right = -reach; right <= reach; right++) {
      const value = sampleSmooth(plane, x + right, y + down);
      if (Number.isNaN(value)) continue;
      const weight = Math.exp(-(right * right + down * down) / (2 * variance));
      sum += weight * value;
      weights += weight;
    }
  }
  return sum / weights;
}

/** Squared slope against that of the strong points, below which a point is more likely noise; unless too few are left. */
const WEAKEST_SHARE = 0.02;
const LEAST_POINTS = 200;

interface Candidate {
  readonly column: number;
  readonly row: number;
  readonly steepness: number;
}

function templatePoints(
  plane: GrayPlane,
  factor: Shrink,
  centre: { x: number; y: number },
  wanted: (x: number, y: number) => boolean,
  pointCount: number,
): TemplatePoints {
  const chosen = steepestSpread(plane, factor, wanted, pointCount);
  const blurs = factor === 2 ? BLURS : BLURS.slice(0, 1);
  const size = chosen.length * blurs.length;
  const points: TemplatePoints = {
    factor,
    pointCount: chosen.length,
    fromCentreX: new Float64Array(chosen.length),
    fromCentreY: new Float64Array(chosen.length),
    values: new Float64Array(size),
    slopesX: new Float64Array(size),
    slopesY: new Float64Array(size),
  };
  chosen.forEach(({ column, row }, index) => {
    points.fromCentreX[index] = column * factor + (factor - 1) / 2 - centre.x;
    points.fromCentreY[index] = row * factor + (factor - 1) / 2 - centre.y;
  });
  blurs.forEach((variance, level) => {
    chosen.forEach(({ column, row }, index) => {
      const at = level * chosen.length + index;
      const seen = (x: number, y: number) => sampleBlurred(plane, x, y, variance);
      points.values[at] = seen(column, row);
      points.slopesX[at] = (seen(column + 0.5, row) - seen(column - 0.5, row)) / factor;
      points.slopesY[at] = (seen(column, row + 0.5) - seen(column, row - 0.5)) / factor;
    });
  });
  return points;
}

function steepestSpread(
  plane: GrayPlane,
  factor: Shrink,
  wanted: (x: number, y: number) => boolean,
  pointCount: number,
): Candidate[] {
  const cellPx = Math.max(4, Math.round(Math.sqrt((plane.width * plane.height) / 400)));
  const columns = Math.ceil(plane.width / cellPx);
  const cells = new Map<number, Candidate[]>();
  // Squared slopes of noise fall off exponentially: 20 times their median is seen once in a million pixels.
  const floor = 20 * usualSteepness(plane, factor, wanted);
  for (let row = 3; row < plane.height - 3; row++) {
    for (let column = 3; column < plane.width - 3; column++) {
      const steepness = centralSteepness(plane, column, row);
      if (!(steepness > floor)) continue;
      if (!wanted(column * factor + (factor - 1) / 2, row * factor + (factor - 1) / 2)) continue;
      const cell = Math.floor(row / cellPx) * columns + Math.floor(column / cellPx);
      const list = cells.get(cell) ?? [];
      if (list.length === 0) cells.set(cell, list);
      list.push({ column, row, steepness });
    }
  }
  for (const list of cells.values()) list.sort((first, second) => second.steepness - first.steepness);
  return steepestFew([...cells.values()], pointCount, plane.width);
}

/** The steepest points, with a bounded share for each cell and none that is much weaker than the strong ones. */
function steepestFew(cells: readonly Candidate[][], pointCount: number, width: number): Candidate[] {
  const share = Math.max(8, Math.ceil(pointCount / 80));
  const best = cells
    .flatMap((list) => apart(list, share, width))
    .sort((first, second) => second.steepness - first.steepness)
    .slice(0, pointCount);
  const strong = best[Math.floor(0.1 * best.length)]?.steepness ?? 0;
  const clear = best.filter(({ steepness }) => steepness > WEAKEST_SHARE * strong);
  return clear.length >= LEAST_POINTS ? clear : best;
}

/** The first few of a list of which no two are neighbours: smoothed, neighbours share their noise and tell hardly more. */
function apart(list: readonly Candidate[], count: number, width: number): Candidate[] {
  const taken = new Set<number>();
  const few: Candidate[] = [];
  for (const point of list) {
    if (few.length >= count) break;
    const at = point.row * width + point.column;
    const isFree = [-1, 0, 1].every((down) => [-1, 0, 1].every((right) => !taken.has(at + down * width + right)));
    if (!isFree) continue;
    taken.add(at);
    few.push(point);
  }
  return few;
}

/** Median of the squared slopes: that of noise or texture, since most of a picture is neither edge nor print. */
function usualSteepness(plane: GrayPlane, factor: Shrink, wanted: (x: number, y: number) => boolean): number {
  const seen: number[] = [];
  const stride = Math.max(1, Math.round(Math.sqrt((plane.width * plane.height) / 20_000)));
  for (let row = 3; row < plane.height - 3; row += stride) {
    for (let column = 3; column < plane.width - 3; column += stride) {
      if (wanted(column * factor + (factor - 1) / 2, row * factor + (factor - 1) / 2))
        seen.push(centralSteepness(plane, column, row));
    }
  }
  return seen.sort((a, b) => a - b)[seen.length >> 1] ?? 0;
}

/** Slope of the plane smoothed by 3 x 3 means, squared and summed over both directions. */
function centralSteepness(plane: GrayPlane, column: number, row: number): number {
  const { values, stride } = plane;
  const above = (row - 1) * stride + column;
  const here = above + stride;
  const below = here + stride;
  const right = values[above + 1]! + 2 * values[here + 1]! + values[below + 1]!;
  const left = values[above - 1]! + 2 * values[here - 1]! + values[below - 1]!;
  const under = values[below - 1]! + 2 * values[below]! + values[below + 1]!;
  const over = values[above - 1]! + 2 * values[above]! + values[above + 1]!;
  return (right - left) ** 2 + (under - over) ** 2;
}
