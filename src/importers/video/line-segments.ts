import type { GrayPlane } from "./smooth-sampling.js";

/** A straight piece of an edge: its middle, its direction (unit vector), length and steepness, pixels and gray levels. */
export interface LineSegment {
  readonly x: number;
  readonly y: number;
  readonly alongX: number;
  readonly alongY: number;
  readonly lengthPx: number;
  readonly steepness: number;
}

const ANGLE_TOLERANCE_COS = Math.cos((22.5 * Math.PI) / 180);

/** Straight edge pieces: neighbouring pixels whose slopes point the same way, longer than wide. */
export function lineSegments(plane: GrayPlane, shortestPx = 6): LineSegment[] {
  const { width, height } = plane;
  const { slopesX, slopesY, steepness } = slopesOf(plane);
  const sorted = Float32Array.from(
    { length: 20_000 },
    (_, index) => steepness[(index * 104_729) % steepness.length]!,
  ).sort();
  const floor = Math.max(3, 3 * sorted[sorted.length >> 1]!, 0.5 * sorted[Math.floor(0.97 * sorted.length)]!);
  const order: number[] = [];
  for (let at = 0; at < steepness.length; at++) if (steepness[at]! > floor) order.push(at);
  order.sort((first, second) => steepness[second]! - steepness[first]!);
  const taken = new Uint8Array(width * height);
  const segments: LineSegment[] = [];
  for (const seed of order) {
    if (taken[seed] === 1) continue;
    const region = grow(seed, { width, slopesX, slopesY, steepness, taken, floor });
    if (region.length < shortestPx) continue;
    const segment = fitted(region, width, { slopesX, slopesY, steepness });
    if (segment !== null && segment.lengthPx >= shortestPx) segments.push(segment);
  }
  return segments;
}

interface Slopes {
  readonly slopesX: Float32Array;
  readonly slopesY: Float32Array;
  readonly steepness: Float32Array;
}

function slopesOf(plane: GrayPlane): Slopes {
  const { width, height, stride, values } = plane;
  const slopesX = new Float32Array(width * height);
  const slopesY = new Float32Array(width * height);
  const steepness = new Float32Array(width * height);
  for (let row = 2; row < height - 2; row++) {
    for (let column = 2; column < width - 2; column++) {
      const here = row * stride + column;
      const up = here - stride;
      const down = here + stride;
      const x =
        (values[up + 1]! -
          values[up - 1]! +
          2 * (values[here + 1]! - values[here - 1]!) +
          values[down + 1]! -
          values[down - 1]!) /
        8;
      const y =
        (values[down - 1]! -
          values[up - 1]! +
          2 * (values[down]! - values[up]!) +
          values[down + 1]! -
          values[up + 1]!) /
        8;
      const at = row * width + column;
      slopesX[at] = x;
      slopesY[at] = y;
      steepness[at] = Math.hypot(x, y);
    }
  }
  return { slopesX, slopesY, steepness };
}

function grow(
  seed: number,
  field: Slopes & { readonly width: number; readonly taken: Uint8Array; readonly floor: number },
): number[] {
  const { width, slopesX, slopesY, steepness, taken, floor } = field;
  const region = [seed];
  taken[seed] = 1;
  let sumX = slopesX[seed]! / steepness[seed]!;
  let sumY = slopesY[seed]! / steepness[seed]!;
  const around = [-width - 1, -width, -width + 1, -1, 1, width - 1, width, width + 1];
  for (let next = 0; next < region.length && region.length < 4000; next++) {
    for (const offset of around) {
      const at = region[next]! + offset;
      if (taken[at] !== 0 || !(steepness[at]! > floor)) continue;
      const unitX = slopesX[at]! / steepness[at]!;
      const unitY = slopesY[at]! / steepness[at]!;
      if (unitX * sumX + unitY * sumY < ANGLE_TOLERANCE_COS * Math.hypot(sumX, sumY)) continue;
      taken[at] = 1;
      region.push(at);
      sumX += unitX;
      sumY += unitY;
    }
  }
  return region;
}

function fitted(region: readonly number[], width: number, slopes: Slopes): LineSegment | null {
  let [sum, x, y] = [0, 0, 0];
  for (const at of region) {
    const weight = slopes.steepness[at]!;
    sum += weight;
    x += weight * (at % width);
    y += weight * Math.floor(at / width);
  }
  x /= sum;
  y /= sum;
  let [xx, xy, yy] = [0, 0, 0];
  for (const at of region) {
    const weight = slopes.steepness[at]! / sum;
    const dx = (at % width) - x;
    const dy = Math.floor(at / width) - y;
    xx += weight * dx * dx;
    xy += weight * dx * dy;
    yy += weight * dy * dy;
  }
  const turn = 0.5 * Math.atan2(2 * xy, xx - yy);
  const long = (xx + yy) / 2 + Math.hypot((xx - yy) / 2, xy);
  const short = Math.max(0, xx + yy - long);
  const lengthPx = Math.sqrt(12 * long);
  if (Math.sqrt(12 * short) > 0.6 * lengthPx) return null;
  return { x, y, alongX: Math.cos(turn), alongY: Math.sin(turn), lengthPx, steepness: sum / region.length };
}
