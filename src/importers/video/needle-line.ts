import { type NeedleLine, type Place, turnBetween } from "./dial-geometry.js";
import { needlePatch, polarGrid } from "./needle-patch.js";
import { axisColumns, needleProfile } from "./needle-profile.js";
import { type GrayPlane, raySource, sampleSmooth } from "./smooth-sampling.js";
import { unmoved } from "./warp.js";

/** A radial line seen on the dial, and how far it stands out. */
export interface RadialLine {
  readonly angleRad: number;
  readonly tone: "dark" | "light";
  /** Contrast over the whole length against what other directions show; above 1 stands out. */
  readonly strength: number;
}

const ANGLE_COUNT = 1440;
const RADIUS_COUNT = 28;
/** The least length over which a needle must be seen, in inner radii. */
const SHORTEST = 0.15;

/** Long radial lines between two fractions of the inner scale radius, strongest first. */
export function radialLines(plane: GrayPlane, pivot: Place, innerRadiusPx: number): RadialLine[] {
  const found: RadialLine[] = [];
  for (const widthPx of [0.03 * innerRadiusPx + 2, 0.07 * innerRadiusPx + 2]) {
    const contrast = ringContrast(plane, pivot, innerRadiusPx, widthPx);
    for (const sign of [-1, 1] as const) found.push(...peaks(contrast, sign));
  }
  found.sort((first, second) => second.strength - first.strength);
  const distinct: RadialLine[] = [];
  for (const line of found) {
    if (distinct.every((other) => Math.abs(turnBetween(other.angleRad, line.angleRad)) > 0.07)) distinct.push(line);
  }
  return distinct.slice(0, 6);
}

/** For each direction a low quantile over the radii of the line's contrast, for dark and for light lines. */
function ringContrast(plane: GrayPlane, pivot: Place, innerRadiusPx: number, widthPx: number) {
  const dark = new Float64Array(ANGLE_COUNT);
  const light = new Float64Array(ANGLE_COUNT);
  const values = Array.from({ length: RADIUS_COUNT }, (_, index) => {
    const radius = innerRadiusPx * (0.4 + (0.5 * index) / (RADIUS_COUNT - 1));
    return Float64Array.from({ length: ANGLE_COUNT }, (_, step) => {
      const angle = (2 * Math.PI * step) / ANGLE_COUNT;
      return sampleSmooth(plane, pivot.x + radius * Math.cos(angle), pivot.y + radius * Math.sin(angle));
    });
  });
  const differences = new Float64Array(RADIUS_COUNT);
  const opposite = new Float64Array(RADIUS_COUNT);
  for (let step = 0; step < ANGLE_COUNT; step++) {
    for (let index = 0; index < RADIUS_COUNT; index++) {
      const radius = innerRadiusPx * (0.4 + (0.5 * index) / (RADIUS_COUNT - 1));
      const apart = Math.max(2, Math.round((widthPx / radius / (2 * Math.PI)) * ANGLE_COUNT));
      const ring = values[index]!;
      const left = ring[(step - apart + ANGLE_COUNT) % ANGLE_COUNT]!;
      const right = ring[(step + apart) % ANGLE_COUNT]!;
      // Against the nearer of both sides in tone: an edge between light and shade is no line.
      differences[index] = Math.min(left, right) - ring[step]!;
      opposite[index] = ring[step]! - Math.max(left, right);
      if (Number.isNaN(left + right + ring[step]!)) differences[index] = opposite[index] = -50;
    }
    differences.sort();
    opposite.sort();
    dark[step] = lowMean(differences);
    light[step] = lowMean(opposite);
  }
  return { dark, light };
}

/** Mean of the lower half without the lowest few: high only where the line runs the whole way. */
function lowMean(sorted: Float64Array): number {
  let sum = 0;
  let count = 0;
  for (let index = Math.floor(0.25 * sorted.length); index < 0.6 * sorted.length; index++) {
    sum += sorted[index]!;
    count++;
  }
  return sum / count;
}

function peaks(contrast: { dark: Float64Array; light: Float64Array }, sign: -1 | 1): RadialLine[] {
  const scores = sign < 0 ? contrast.dark : contrast.light;
  const sorted = Float64Array.from(scores).sort();
  const middle = sorted[sorted.length >> 1]!;
  const spread = Math.max(1.5, sorted[Math.floor(0.9 * sorted.length)]! - middle);
  const lines: RadialLine[] = [];
  for (let step = 0; step < ANGLE_COUNT; step++) {
    const score = scores[step]!;
    if (score < 2) continue;
    let isPeak = true;
    for (let offset = -8; offset <= 8 && isPeak; offset++)
      isPeak = scores[(step + offset + ANGLE_COUNT) % ANGLE_COUNT]! <= score;
    if (isPeak)
      lines.push({
        angleRad: (2 * Math.PI * step) / ANGLE_COUNT,
        tone: sign < 0 ? "dark" : "light",
        strength: score / (4 + spread),
      });
  }
  return lines;
}

/** A needle measured on the picture, with the pivot moved sideways onto its axis. */
export interface MeasuredNeedle {
  readonly needle: NeedleLine;
  readonly pivot: Place;
  /** Scatter of the axis about a straight line, pixels. */
  readonly scatterPx: number;
}

/** Refines a radial line to the needle's axis between its visible ends; null when it is no straight needle. */
export function measureNeedle(
  plane: GrayPlane,
  pivot: Place,
  line: RadialLine,
  innerRadiusPx: number,
): MeasuredNeedle | null {
  let centre = pivot;
  let angle = line.angleRad;
  let reach = { innerPx: 0, outerPx: 0 };
  let measured: ReturnType<typeof axisLine> = null;
  for (let round = 0; round < 4; round++) {
    if (round < 2) reach = visibleReach(plane, centre, angle, line.tone, innerRadiusPx);
    if (reach.outerPx - reach.innerPx < SHORTEST * innerRadiusPx) return null;
    measured = axisLine(plane, centre, angle, reach, line.tone);
    if (measured === null) return null;
    angle += measured.turnRad;
    centre = { x: centre.x - measured.sidePx * Math.sin(angle), y: centre.y + measured.sidePx * Math.cos(angle) };
  }
  if (measured === null || measured.scatterPx > 1.5 + 0.006 * innerRadiusPx) return null;
  if (Math.hypot(centre.x - pivot.x, centre.y - pivot.y) > 12 + 0.05 * innerRadiusPx) return null;
  return {
    needle: { angleRad: angle, ...reach, halfWidthPx: measured.halfWidthPx, tone: line.tone },
    pivot: centre,
    scatterPx: measured.scatterPx,
  };
}

/** The line angle + side / radius through the middles of the needle's edges, band by band. */
function axisLine(
  plane: GrayPlane,
  pivot: Place,
  angleRad: number,
  reach: { innerPx: number; outerPx: number },
  tone: "dark" | "light",
) {
  const grid = polarGrid(pivot, reach.innerPx, reach.outerPx, 1, 16);
  const half = Math.round(0.16 / grid.stepRad);
  const firstStep = Math.round(angleRad / grid.stepRad) - half;
  const area = { x: 0, y: 0, width: plane.width, height: plane.height };
  const patch = needlePatch({ pixels: raySource({ full: plane }), area }, unmoved(pivot.x, pivot.y), grid, {
    firstStep,
    stepCount: 2 * half + 1,
  });
  if (patch.values.some(Number.isNaN)) return null;
  const profile = needleProfile(patch, grid, half, half);
  if (tone === "dark" ? profile.contrast > -2 : profile.contrast < 2) return null;
  const columns = axisColumns(profile);
  const places = [...columns].map((column, band) => ({
    radius: grid.bandRadiusPx[band]!,
    angle: (firstStep + column) * grid.stepRad - angleRad,
    halfWidth: ((profile.to[band]! - profile.from[band]!) / 2) * grid.stepRad * grid.bandRadiusPx[band]!,
  }));
  return robustLine(places.filter((place) => Number.isFinite(place.angle)));
}

function robustLine(places: readonly { radius: number; angle: number; halfWidth: number }[]) {
  if (places.length < 8) return null;
  let kept = places;
  let turnRad = 0;
  let sidePx = 0;
  let scatterPx = 0;
  for (let round = 0; round < 4; round++) {
    // Sideways distance from the trial axis is turn * radius + side: an ordinary straight line.
    const n = kept.length;
    const meanR = kept.reduce((sum, place) => sum + place.radius, 0) / n;
    const meanS = kept.reduce((sum, place) => sum + place.angle * place.radius, 0) / n;
    const rr = kept.reduce((sum, place) => sum + (place.radius - meanR) ** 2, 0);
    const rs = kept.reduce((sum, place) => sum + (place.radius - meanR) * (place.angle * place.radius - meanS), 0);
    turnRad = rs / rr;
    sidePx = meanS - turnRad * meanR;
    const offs = places.map((place) => Math.abs(place.angle * place.radius - turnRad * place.radius - sidePx));
    scatterPx = 1.48 * [...offs].sort((a, b) => a - b)[offs.length >> 1]!;
    const limit = Math.max(0.3, 2.5 * scatterPx);
    kept = places.filter((_, index) => offs[index]! <= limit);
    if (kept.length < 6) return null;
  }
  const widths = kept.map((place) => place.halfWidth).sort((a, b) => a - b);
  return { turnRad, sidePx, scatterPx, halfWidthPx: widths[widths.length >> 1]! };
}

/** Radii between which the line stands out from both of its sides. */
function visibleReach(
  plane: GrayPlane,
  pivot: Place,
  angleRad: number,
  tone: "dark" | "light",
  innerRadiusPx: number,
): { innerPx: number; outerPx: number } {
  const sign = tone === "dark" ? -1 : 1;
  const contrastAt = (radius: number) => {
    const apart = (0.045 * innerRadiusPx + 2) / radius;
    const at = (angle: number) =>
      sampleSmooth(plane, pivot.x + radius * Math.cos(angle), pivot.y + radius * Math.sin(angle));
    return sign * at(angleRad) - Math.max(sign * at(angleRad - apart), sign * at(angleRad + apart));
  };
  const middle: number[] = [];
  for (let radius = 0.45 * innerRadiusPx; radius < 0.85 * innerRadiusPx; radius += 2) middle.push(contrastAt(radius));
  const typical = middle.sort((a, b) => a - b)[middle.length >> 1]!;
  const visible = (radius: number) => contrastAt(radius) > 0.5 * typical;
  const walk = (from: number, to: number, step: number) => {
    let last = from;
    let missing = 0;
    for (let radius = from; step > 0 ? radius < to : radius > to; radius += step) {
      if (visible(radius)) {
        last = radius;
        missing = 0;
      } else {
        missing += 1;
        if (missing > 0.06 * innerRadiusPx) break;
      }
    }
    return last;
  };
  const tip = walk(0.6 * innerRadiusPx, 1.02 * innerRadiusPx, 1);
  const root = walk(0.6 * innerRadiusPx, 0.15 * innerRadiusPx, -1);
  return {
    innerPx: Math.max(root + 0.04 * innerRadiusPx, 0.3 * innerRadiusPx),
    outerPx: Math.min(tip - 0.05 * innerRadiusPx, 0.93 * innerRadiusPx),
  };
}
