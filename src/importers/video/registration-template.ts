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
  return { full, quarter: blockMeans(full, 4) };
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
  const chosen = steepestSpread(plane, factor, wanted, pointCount);
  const points: TemplatePoints = {
    factor,
    pointCount: chosen.length,
    fromCentreX: new Float64Array(chosen.length),
    fromCentreY: new Float64Array(chosen.length),
    values: new Float64Array(chosen.length),
    slopesX: new Float64Array(chosen.length),
    slopesY: new Float64Array(chosen.length),
  };
  chosen.forEach(({ column, row }, index) => {
    points.fromCentreX[index] = column * factor + (factor - 1) / 2 - centre.x;
    points.fromCentreY[index] = row * factor + (factor - 1) / 2 - centre.y;
    points.values[index] = sampleSmooth(plane, column, row);
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
  const floor = noiseFloor(plane, factor, wanted);
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
  const perCell = fairShare(
    [...cells.values()].map((list) => list.length),
    pointCount,
  );
  return [...cells.values()].flatMap((list) => list.slice(0, perCell));
}

/** Steeper than the noise of most of the picture, else a point only adds noise. */
function noiseFloor(plane: GrayPlane, factor: 1 | 4, wanted: (x: number, y: number) => boolean): number {
  const seen: number[] = [];
  const stride = Math.max(1, Math.round(Math.sqrt((plane.width * plane.height) / 20_000)));
  for (let row = 3; row < plane.height - 3; row += stride) {
    for (let column = 3; column < plane.width - 3; column += stride) {
      if (wanted(column * factor + (factor - 1) / 2, row * factor + (factor - 1) / 2))
        seen.push(centralSteepness(plane, column, row));
    }
  }
  return 8 * (seen.sort((a, b) => a - b)[seen.length >> 1] ?? 0);
}

/** The largest number per cell with which all cells together stay within the count wanted. */
function fairShare(available: readonly number[], pointCount: number): number {
  let low = 1;
  let high = Math.max(1, ...available);
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    const taken = available.reduce((sum, count) => sum + Math.min(count, middle), 0);
    if (taken <= pointCount) low = middle;
    else high = middle - 1;
  }
  return low;
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
