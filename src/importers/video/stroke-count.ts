import { type Place, turnBetween } from "./dial-geometry.js";
import type { ScaleKnot } from "./scale-curve.js";
import { type ScaleStroke, type SnappedMark, type StrokeBand, scaleStrokes } from "./scale-marks.js";
import type { GrayPlane } from "./smooth-sampling.js";

/** A mark with its angle unwrapped along the scale. */
export interface OrderedMark extends SnappedMark {
  readonly alongRad: number;
}

/** What is printed between two neighbouring marks. */
export interface StrokeRun {
  readonly from: OrderedMark;
  readonly to: OrderedMark;
  /**
   * Even: regular strokes that make a usual division. Bare: too few strokes to say so. Uneven: regular strokes that make no
   * usual division. Unclear: no regular strokes.
   */
  readonly verdict: "even" | "bare" | "uneven" | "unclear";
  /** Gaps beside the two marks, radians, and the volts of one. */
  readonly firstGapRad: number;
  readonly lastGapRad: number;
  readonly gapV: number;
  /** The strokes with their volts, where they are even. */
  readonly knots: readonly (ScaleKnot & { readonly radiusPx: number })[];
}

/** One or two strokes stand evenly by chance. */
const LEAST_GAPS = 4;

/** Rings in which strokes are counted, shares of the scale's radius about the radius of the marks. */
const RINGS = [
  [0.015, 0.055],
  [-0.03, 0.02],
  [-0.055, -0.015],
  [0, 0.035],
] as const;

/** Strokes between neighbouring marks in whichever ring they count up evenly between most of them. */
export function strokeRuns(
  plane: GrayPlane,
  pivot: Place,
  marks: readonly OrderedMark[],
  tone: "dark" | "light",
): StrokeRun[] {
  const scalePx = marks.reduce((sum, mark) => sum + mark.radiusPx, 0) / marks.length;
  let best: { runs: StrokeRun[]; score: number } | null = null;
  for (const [inner, outer] of RINGS) {
    const bandAt = (radiusPx: number): StrokeBand => ({
      fromPx: radiusPx + inner * scalePx,
      toPx: radiusPx + outer * scalePx,
      tone,
    });
    const runs = marks.slice(1).map((mark, index) => strokeRun(plane, pivot, marks[index]!, mark, bandAt));
    const score = runs.reduce((sum, run) => sum + SCORES[run.verdict], 0);
    if (best === null || score > best.score) best = { runs, score };
  }
  return best?.runs ?? [];
}

const SCORES = { even: 1, bare: 0, unclear: -0.01, uneven: -0.02 } as const;

/** The radius of the scale at an angle between two marks. */
export function radiusBetween(from: OrderedMark, to: OrderedMark): (alongRad: number) => number {
  return (alongRad) =>
    from.radiusPx + ((alongRad - from.alongRad) / (to.alongRad - from.alongRad)) * (to.radiusPx - from.radiusPx);
}

function strokeRun(
  plane: GrayPlane,
  pivot: Place,
  from: OrderedMark,
  to: OrderedMark,
  bandAt: (radiusPx: number) => StrokeBand,
): StrokeRun {
  const radiusAt = radiusBetween(from, to);
  const [low, high] = [Math.min(from.alongRad, to.alongRad), Math.max(from.alongRad, to.alongRad)];
  const own = Math.max(3, 0.012 * from.radiusPx) / from.radiusPx;
  const margin = 10 / from.radiusPx;
  const seen = scaleStrokes(plane, pivot, (angle) => bandAt(radiusAt(angle)), low - margin, high + margin);
  const inside = onlyStrong(seen).filter(({ angleRad }) => angleRad > low + own && angleRad < high - own);
  const ordered = from.alongRad < to.alongRad ? inside : inside.reverse();
  const stops = [from.alongRad, ...ordered.map((stroke) => stroke.angleRad), to.alongRad];
  const counted = countedStops(stops);
  const gapCount = counted?.at(-1) ?? stops.length - 1;
  const gapV = (to.volts - from.volts) / gapCount;
  const isWhole = gapCount === stops.length - 1;
  const isUsual = counted !== null && isDivision(Math.abs(gapV));
  const regular = isUsual ? (gapCount < LEAST_GAPS ? "bare" : "even") : isWhole ? "uneven" : "unclear";
  const verdict = ordered.length === 0 ? "bare" : counted === null ? "unclear" : regular;
  return {
    from,
    to,
    verdict,
    firstGapRad: Math.abs(stops[1]! - stops[0]!) / (counted?.[1] ?? 1),
    lastGapRad: Math.abs(stops.at(-1)! - stops.at(-2)!) / (gapCount - (counted?.at(-2) ?? gapCount - 1)),
    gapV,
    knots:
      counted === null || !isUsual
        ? []
        : ordered.map((stroke, at) => ({
            angleRad: stroke.angleRad,
            radiusPx: radiusAt(stroke.angleRad),
            uAngleRad: Math.max(stroke.uAngleRad, 0.12 / to.radiusPx),
            volts: from.volts + counted![at + 1]! * gapV,
          })),
  };
}

/** Strokes with at least 0.4 of the usual contrast. */
export function onlyStrong(strokes: readonly ScaleStroke[]): ScaleStroke[] {
  const typical = strokes.map((stroke) => stroke.contrast).sort((a, b) => b - a)[strokes.length >> 1] ?? 0;
  return strokes.filter((stroke) => stroke.contrast > 0.4 * typical);
}

/** Neighbouring gaps are within a quarter of each other. */
const REGULAR_LOG = 0.22;
/** A gap in which strokes were not seen is so near to a whole multiple of its neighbour. */
const MULTIPLE_LOG = 0.12;

/**
 * Number of gaps up to each stop, where all gaps are regular; a gap in which one or two strokes were not seen counts as so
 * many, where that is rare. Null where they are not regular.
 */
function countedStops(stops: readonly number[]): number[] | null {
  const gaps = stops.slice(1).map((stop, index) => Math.abs(stop - stops[index]!));
  const sorted = [...gaps].sort((a, b) => a - b);
  const counts = gaps.map((gap, index) => {
    const beside = [gaps[index - 1], gaps[index + 1]].filter((other) => other !== undefined);
    const usual = Math.min(...beside, 1.5 * sorted[sorted.length >> 1]!);
    const many = Math.round(gap / usual);
    return (many === 2 || many === 3) && Math.abs(Math.log(gap / usual / many)) < MULTIPLE_LOG ? many : 1;
  });
  const unseen = counts.reduce((sum, count) => sum + count - 1, 0);
  if (unseen > Math.max(1, 0.15 * gaps.length)) return null;
  const even = gaps.map((gap, index) => gap / counts[index]!);
  if (!even.every((gap, index) => index === 0 || Math.abs(Math.log(gap / even[index - 1]!)) < REGULAR_LOG)) return null;
  let count = 0;
  return [0, ...counts.map((more) => (count += more))];
}

const DIVISIONS = [1, 2, 2.5, 5];

/** Whether a scale is usually divided so: 1, 2, 2.5 or 5 times a power of ten (common practice, no source). */
function isDivision(volts: number): boolean {
  const size = volts / 10 ** Math.floor(Math.log10(volts) + 1e-9);
  return DIVISIONS.some((division) => Math.abs(size - division) < 1e-6);
}

/** The longest run of strokes with regular gaps around the circle, angles unwrapped and rising. */
export function longestChain(strokes: readonly ScaleStroke[]): ScaleStroke[] {
  const n = strokes.length;
  let best: ScaleStroke[] = [];
  for (let first = 0; first < n; first++) {
    const chain = [strokes[first]!];
    for (let step = 1; step < n; step++) {
      const next = strokes[(first + step) % n]!;
      const last = chain.at(-1)!;
      const gap = (turnBetween(last.angleRad, next.angleRad) + 2 * Math.PI) % (2 * Math.PI);
      const before = chain.length < 2 ? gap : last.angleRad - chain.at(-2)!.angleRad;
      if (Math.abs(Math.log(gap / before)) > REGULAR_LOG) break;
      chain.push({ ...next, angleRad: last.angleRad + gap });
    }
    if (chain.length > best.length) best = chain;
  }
  return best;
}
