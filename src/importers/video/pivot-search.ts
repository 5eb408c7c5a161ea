import type { Place } from "./dial-geometry.js";
import type { LineSegment } from "./line-segments.js";
import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";

/** A point at which short strokes that stand in a ring around it converge: the pivot of a dial. */
export interface PivotCandidate extends Place {
  /** Radius of the middle of the strokes, and of their inner ends, pixels. */
  readonly ringPx: number;
  readonly innerPx: number;
  /** Directions (steps of 3 degrees) in which a stroke was seen. */
  readonly strokeCount: number;
  /** Standard uncertainty of the pivot from the strokes, pixels along each axis. */
  readonly uPx: number;
  readonly strokes: readonly LineSegment[];
}

const CELL_PX = 8;
const DISTANCE_BINS = 24;
const NEAREST_PX = 40;
const BIN_RATIO = 1.14;

/** Places on which strokes converge, best first, at most `count`. */
export function pivotCandidates(
  segments: readonly LineSegment[],
  picture: { readonly width: number; readonly height: number },
  count = 12,
): PivotCandidate[] {
  const columns = Math.ceil(picture.width / CELL_PX);
  const rows = Math.ceil(picture.height / CELL_PX);
  const short = segments.filter((segment) => segment.lengthPx < 0.12 * Math.min(picture.width, picture.height));
  const directions = votes(short, columns, rows);
  const scored: { cell: number; bin: number; score: number }[] = [];
  for (let cell = 0; cell < columns * rows; cell++) {
    for (let bin = 0; bin + 1 < DISTANCE_BINS; bin++) {
      const at = (cell * DISTANCE_BINS + bin) * 4;
      let score = 0;
      for (let word = 0; word < 4; word++) score += ones(directions[at + word]! | directions[at + 4 + word]!);
      if (score >= 8) scored.push({ cell, bin, score });
    }
  }
  scored.sort((first, second) => second.score - first.score);
  const found: PivotCandidate[] = [];
  for (const { cell, bin } of scored.slice(0, 400)) {
    const start = { x: ((cell % columns) + 0.5) * CELL_PX, y: (Math.floor(cell / columns) + 0.5) * CELL_PX };
    if (found.some((other) => Math.hypot(other.x - start.x, other.y - start.y) < 3 * CELL_PX)) continue;
    const refined = convergence(short, start, NEAREST_PX * BIN_RATIO ** (bin + 1));
    if (refined === null || found.some((other) => Math.hypot(other.x - refined.x, other.y - refined.y) < CELL_PX))
      continue;
    found.push(refined);
    if (found.length >= 3 * count) break;
  }
  return found.sort((first, second) => second.strokeCount - first.strokeCount).slice(0, count);
}

/** One bit per direction of 3 degrees from each cell, by distance: set where a stroke points at the cell. */
function votes(segments: readonly LineSegment[], columns: number, rows: number): Uint32Array {
  const directions = new Uint32Array(columns * rows * DISTANCE_BINS * 4);
  const farthestPx = NEAREST_PX * BIN_RATIO ** DISTANCE_BINS;
  for (const segment of segments) {
    for (const side of [-1, 1]) {
      const alongX = side * segment.alongX;
      const alongY = side * segment.alongY;
      const back = Math.atan2(-alongY, -alongX);
      const direction = Math.floor((back / (2 * Math.PI) + 1) * 120) % 120;
      for (let distance = NEAREST_PX; distance < farthestPx; distance += CELL_PX) {
        const bin = Math.floor(Math.log(distance / NEAREST_PX) / Math.log(BIN_RATIO));
        // A short stroke's direction is known to about a pixel over its length: widen with distance.
        const doubt = Math.min(2, Math.round((0.35 * distance) / (segment.lengthPx * CELL_PX)));
        for (let across = -doubt; across <= doubt; across++) {
          const column = Math.floor((segment.x + alongX * distance - alongY * across * CELL_PX) / CELL_PX);
          const row = Math.floor((segment.y + alongY * distance + alongX * across * CELL_PX) / CELL_PX);
          if (column < 0 || row < 0 || column >= columns || row >= rows) continue;
          directions[((row * columns + column) * DISTANCE_BINS + bin) * 4 + (direction >> 5)]! |= 1 << (direction & 31);
        }
      }
    }
  }
  return directions;
}

function ones(word: number): number {
  let bits = word - ((word >>> 1) & 0x55555555);
  bits = (bits & 0x33333333) + ((bits >>> 2) & 0x33333333);
  return (((bits + (bits >>> 4)) & 0x0f0f0f0f) * 0x01010101) >>> 24;
}

/** The point that the strokes near a ring around `start` point at, by reweighted least squares; null when few do. */
function convergence(segments: readonly LineSegment[], start: Place, ringPx: number): PivotCandidate | null {
  let pivot = start;
  let ring = ringPx;
  let kept: LineSegment[] = [];
  let uPx = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 6; round++) {
    const narrow = round < 2 ? 0.22 : 0.16;
    const near = (segment: LineSegment) => pointsAt(segment, pivot, ring, narrow, round < 2 ? 10 : 4);
    kept = segments.filter(near);
    if (kept.length < 8) return null;
    const sums = emptyEquations(2);
    let left = 0;
    for (const segment of kept) {
      const across = acrossFrom(segment, pivot);
      const distance = Math.hypot(segment.x - pivot.x, segment.y - pivot.y);
      const doubt = 0.6 + (0.5 * distance) / segment.lengthPx;
      const beyond = across / (2 * doubt);
      const weight = 1 / (doubt * doubt * (1 + beyond * beyond));
      addEquation(sums, [-segment.alongY, segment.alongX], across, weight);
      left += weight * across * across;
    }
    const solved = solveEquations(sums);
    if (solved === null) return null;
    pivot = { x: pivot.x + solved.solution[0]!, y: pivot.y + solved.solution[1]! };
    uPx = Math.sqrt((Math.max(solved.inverse[0]!, solved.inverse[3]!) * Math.max(left, 1)) / kept.length) * 1.4;
    const radii = kept.map((segment) => Math.hypot(segment.x - pivot.x, segment.y - pivot.y)).sort((a, b) => a - b);
    ring = radii[radii.length >> 1]!;
    if (Math.hypot(pivot.x - start.x, pivot.y - start.y) > 60) return null;
  }
  const seen = new Set(
    kept.map((segment) =>
      Math.floor(((Math.atan2(segment.y - pivot.y, segment.x - pivot.x) / (2 * Math.PI) + 1) * 120) % 120),
    ),
  );
  const inner = kept
    .map((segment) => Math.hypot(segment.x - pivot.x, segment.y - pivot.y) - segment.lengthPx / 2)
    .sort((a, b) => a - b);
  return { ...pivot, ringPx: ring, innerPx: inner[inner.length >> 2]!, strokeCount: seen.size, uPx, strokes: kept };
}

/** Distance of the stroke's line from the point, signed along the stroke's normal. */
function acrossFrom(segment: LineSegment, point: Place): number {
  return -(segment.x - point.x) * segment.alongY + (segment.y - point.y) * segment.alongX;
}

function pointsAt(segment: LineSegment, pivot: Place, ringPx: number, narrow: number, strictness: number): boolean {
  const distance = Math.hypot(segment.x - pivot.x, segment.y - pivot.y);
  if (Math.abs(distance - ringPx) > narrow * ringPx) return false;
  const across = Math.abs(acrossFrom(segment, pivot));
  return across < strictness + (1.2 * distance) / segment.lengthPx && across < 0.08 * ringPx + strictness;
}
