import { blockMeans, type FramePlanes, type GrayPlane, sampleSmooth } from "./smooth-sampling.js";

/** Chosen points of the reference at one level: places from the centre, smoothed values and their slopes per pixel. */
export interface TemplatePoints {
  readonly factor: 1 | 4;
  readonly pointCount: number;
  readonly fromCentreX: Float64Array;
  readonly fromCentreY: Float64Array;
  readonly values: Float64Array;
  readonly slopesX: Float64Array;
  readonly slopesY: Float64Array;
  /** Second derivatives along both axes, added: what blur takes off. */
  readonly curvatures: Float64Array;
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

/** The planes that registration samples, of a whole frame or of a crop. */
export function framePlanes(full: GrayPlane): FramePlanes {
  return { full, quarter: blockMeans(full) };
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
  finePointCount = 1800,
): RegistrationTemplate {
  return {
    centreX: centre.x,
    centreY: centre.y,
    lengthPx: centre.lengthPx,
    fine: templatePoints(planes.full, 1, centre, wanted, finePointCount),
    coarse: templatePoints(planes.quarter, 4, centre, wanted, 500),
  };
}

/** The plane smoothed by the binomial kernel 1 4 6 4 1 along both axes; the outermost two pixels are left as they are. */
function softened(plane: GrayPlane): GrayPlane {
  const { width, height, stride, values } = plane;
  const across = Float32Array.from(values);
  for (let row = 0; row < height; row++) {
    for (let at = row * stride + 2; at < row * stride + width - 2; at++)
      across[at] = (values[at - 2]! + values[at + 2]! + 4 * (values[at - 1]! + values[at + 1]!) + 6 * values[at]!) / 16;
  }
  const both = Float32Array.from(across);
  for (let at = 2 * stride; at < (height - 2) * stride; at++) {
    const far = across[at - 2 * stride]! + across[at + 2 * stride]!;
    both[at] = (far + 4 * (across[at - stride]! + across[at + stride]!) + 6 * across[at]!) / 16;
  }
  return { width, height, stride, values: both };
}

/** Squared slope against that of the strong points, below which a point is more likely noise; unless too few are left. */
const WEAKEST_SHARE = 0.06;
const LEAST_POINTS = 200;

interface Candidate {
  readonly column: number;
  readonly row: number;
  readonly steepness: number;
}

function templatePoints(
  plane: GrayPlane,
  factor: 1 | 4,
  centre: { x: number; y: number },
  wanted: (x: number, y: number) => boolean,
  pointCount: number,
): TemplatePoints {
  // Print is coherent where noise is not: chosen on a smoother picture than it is followed in.
  const chosen = steepestSpread(factor === 1 ? softened(plane) : plane, factor, wanted, pointCount);
  const points: TemplatePoints = {
    factor,
    pointCount: chosen.length,
    fromCentreX: new Float64Array(chosen.length),
    fromCentreY: new Float64Array(chosen.length),
    values: new Float64Array(chosen.length),
    slopesX: new Float64Array(chosen.length),
    slopesY: new Float64Array(chosen.length),
    curvatures: new Float64Array(chosen.length),
  };
  chosen.forEach(({ column, row }, index) => {
    points.fromCentreX[index] = column * factor + (factor - 1) / 2 - centre.x;
    points.fromCentreY[index] = row * factor + (factor - 1) / 2 - centre.y;
    points.values[index] = sampleSmooth(plane, column, row);
    points.curvatures[index] =
      sampleSmooth(plane, column + 1, row) +
      sampleSmooth(plane, column - 1, row) +
      sampleSmooth(plane, column, row + 1) +
      sampleSmooth(plane, column, row - 1) -
      4 * points.values[index]!;
    points.slopesX[index] = (sampleSmooth(plane, column + 0.5, row) - sampleSmooth(plane, column - 0.5, row)) / factor;
    points.slopesY[index] = (sampleSmooth(plane, column, row + 0.5) - sampleSmooth(plane, column, row - 0.5)) / factor;
  });
  return points;
}

function steepestSpread(
  plane: GrayPlane,
  factor: 1 | 4,
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
  return steepestFew([...cells.values()], pointCount);
}

/** The steepest points, with a bounded share for each cell and none that is much weaker than the strong ones. */
function steepestFew(cells: readonly Candidate[][], pointCount: number): Candidate[] {
  const share = Math.max(8, Math.ceil(pointCount / 80));
  const best = cells
    .flatMap((list) => list.slice(0, share))
    .sort((first, second) => second.steepness - first.steepness)
    .slice(0, pointCount);
  const strong = best[Math.floor(0.1 * best.length)]?.steepness ?? 0;
  const clear = best.filter(({ steepness }) => steepness > WEAKEST_SHARE * strong);
  return clear.length >= LEAST_POINTS ? clear : best;
}

/** Median of the squared slopes: that of noise or texture, since most of a picture is neither edge nor print. */
function usualSteepness(plane: GrayPlane, factor: 1 | 4, wanted: (x: number, y: number) => boolean): number {
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
