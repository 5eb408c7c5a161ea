import type { MeterProfile } from "../../core/index.js";
import { type Place, turnBetween } from "./dial-geometry.js";
import type { SeenStroke } from "./pivot-fit.js";
import { type ScaleCurve, type ScaleKnot, scaleCurve } from "./scale-curve.js";
import { type ScaleStroke, type SnappedMark, type StrokeBand, scaleStrokes, snapMarks } from "./scale-marks.js";
import type { GrayPlane } from "./smooth-sampling.js";

/** A scale laid through marks or strokes. */
export interface DialScale {
  readonly marks: readonly SnappedMark[];
  readonly curve: ScaleCurve;
  /** Printed strokes that it was laid through. */
  readonly strokes: readonly SeenStroke[];
}

/** The scale through a person's marks, each moved onto its printed stroke; null when they are in no order. */
export function scaleFromMarks(
  plane: GrayPlane,
  pivot: Place,
  needleRad: number,
  clicks: readonly (Place & { readonly volts: number })[],
): DialScale | null {
  const { marks, band } = snapMarks(plane, pivot, clicks);
  const sorted = [...marks].sort((first, second) => first.volts - second.volts);
  const angles = inOrder(sorted, needleRad);
  if (angles === null) return null;
  const knots = sorted.map((mark, index) => ({
    angleRad: angles[index]!,
    uAngleRad: mark.uAngleRad,
    volts: mark.volts,
  }));
  const between = band === null ? [] : strokesBetween(plane, pivot, sorted, angles, band);
  const strokes = [...sorted.filter((mark) => mark.snapped), ...between].map(({ angleRad, radiusPx }) => ({
    angleRad,
    radiusPx,
    tone: band!(radiusPx).tone,
  }));
  return { marks, curve: scaleCurve([...knots, ...between]), strokes };
}

/** Angles unwrapped so that they only rise or only fall with the volts, within one turn; null when that cannot be. */
function inOrder(marks: readonly SnappedMark[], needleRad: number): number[] | null {
  const ways = [1, -1].flatMap((direction) => {
    const angles = [marks[0]!.angleRad];
    for (const mark of marks.slice(1)) {
      let turn = (direction * (mark.angleRad - angles.at(-1)!)) % (2 * Math.PI);
      if (turn < 0) turn += 2 * Math.PI;
      angles.push(angles.at(-1)! + direction * turn);
    }
    const sweep = Math.abs(angles.at(-1)! - angles[0]!);
    return sweep < (350 * Math.PI) / 180 ? [{ angles, sweep, direction }] : [];
  });
  if (ways.length < 2) return ways[0]?.angles ?? null;
  // Two marks alone run either way round: the needle stands on the scale.
  const inside = ways.filter(({ angles, sweep, direction }) => {
    let turn = (direction * (needleRad - angles[0]!)) % (2 * Math.PI);
    if (turn < 0) turn += 2 * Math.PI;
    return turn <= sweep;
  });
  return (inside[0] ?? ways.sort((a, b) => a.sweep - b.sweep)[0]!).angles;
}

const DIVISIONS = [1, 2, 2.5, 5];

/** Strokes between neighbouring marks, where they are so regular that each can only be one division. */
function strokesBetween(
  plane: GrayPlane,
  pivot: Place,
  marks: readonly SnappedMark[],
  angles: readonly number[],
  bandAt: (radiusPx: number) => StrokeBand,
): (ScaleKnot & { readonly radiusPx: number })[] {
  return marks.slice(1).flatMap((mark, index) => {
    const before = marks[index]!;
    if (!mark.snapped || !before.snapped) return [];
    const [from, to] = [angles[index]!, angles[index + 1]!];
    const [low, high] = [Math.min(from, to), Math.max(from, to)];
    const margin = 5 / mark.radiusPx;
    const radiusAt = (angle: number) =>
      before.radiusPx + ((angle - from) / (to - from)) * (mark.radiusPx - before.radiusPx);
    const band = (angle: number) => bandAt(radiusAt(angle));
    const strokes = onlyStrong(scaleStrokes(plane, pivot, band, low + margin, high - margin));
    const ordered = from < to ? strokes : [...strokes].reverse();
    const stops = [from, ...ordered.map((stroke) => stroke.angleRad), to];
    const division = Math.abs(mark.volts - before.volts) / (stops.length - 1);
    if (ordered.length === 0 || !isDivision(division) || !isRegular(stops)) return [];
    return ordered.map((stroke, at) => ({
      angleRad: stroke.angleRad,
      radiusPx: radiusAt(stroke.angleRad),
      uAngleRad: Math.max(stroke.uAngleRad, 0.12 / mark.radiusPx),
      volts: before.volts + ((at + 1) / (stops.length - 1)) * (mark.volts - before.volts),
    }));
  });
}

function onlyStrong(strokes: readonly ScaleStroke[]): ScaleStroke[] {
  const typical = strokes.map((stroke) => stroke.contrast).sort((a, b) => b - a)[strokes.length >> 1] ?? 0;
  return strokes.filter((stroke) => stroke.contrast > 0.4 * typical);
}

function isDivision(volts: number): boolean {
  const size = volts / 10 ** Math.floor(Math.log10(volts) + 1e-9);
  return DIVISIONS.some((division) => Math.abs(size - division) < 1e-6);
}

/** Each gap within a quarter of both of its neighbours. */
function isRegular(stops: readonly number[]): boolean {
  const gaps = stops.slice(1).map((stop, index) => Math.abs(stop - stops[index]!));
  return gaps.every((gap, index) => index === 0 || Math.abs(Math.log(gap / gaps[index - 1]!)) < 0.22);
}

/**
 * The scale of a meter whose end values the profile tells: a ring of regular strokes whose number fits the divisions,
 * rising clockwise; null when the strokes do not say so clearly.
 */
export function scaleFromProfile(
  plane: GrayPlane,
  pivot: Place,
  face: { readonly scaleRadiusPx: number; readonly innerRadiusPx: number },
  meter: MeterProfile | undefined,
): DialScale | null {
  if (meter?.fullScaleV === undefined) return null;
  const zeroV = meter.zeroV ?? 0;
  for (const tone of ["dark", "light"] as const) {
    const half = Math.max(1.5, 0.018 * face.scaleRadiusPx);
    for (const offset of [0, -0.02, 0.02]) {
      const middle = face.scaleRadiusPx * (1 + offset);
      const band = (): StrokeBand => ({ fromPx: middle - half, toPx: middle + half, tone });
      const strokes = onlyStrong(scaleStrokes(plane, pivot, band, -Math.PI, Math.PI));
      const chain = longestChain(strokes);
      if (chain.length < 6) continue;
      const division = (meter.fullScaleV - zeroV) / (chain.length - 1);
      const fits =
        meter.smallestDivisionV === undefined
          ? isDivision(division)
          : Math.abs(division / meter.smallestDivisionV - 1) < 1e-6;
      if (!fits) continue;
      const radiusPx = middle;
      const knots = chain.map((stroke, index) => ({ ...stroke, volts: zeroV + index * division }));
      const marks = [knots[0]!, knots.at(-1)!].map((knot) => ({
        x: pivot.x + radiusPx * Math.cos(knot.angleRad),
        y: pivot.y + radiusPx * Math.sin(knot.angleRad),
        volts: knot.volts,
        angleRad: knot.angleRad,
        uAngleRad: knot.uAngleRad,
        radiusPx,
        snapped: true,
      }));
      return {
        marks,
        curve: scaleCurve(knots.map((knot) => ({ ...knot, uAngleRad: Math.max(knot.uAngleRad, 0.12 / radiusPx) }))),
        strokes: knots.map(({ angleRad }) => ({ angleRad, radiusPx, tone })),
      };
    }
  }
  return null;
}

/** The longest run of strokes with regular gaps around the circle, angles unwrapped and rising. */
function longestChain(strokes: readonly ScaleStroke[]): ScaleStroke[] {
  const n = strokes.length;
  let best: ScaleStroke[] = [];
  for (let first = 0; first < n; first++) {
    const chain = [strokes[first]!];
    for (let step = 1; step < n; step++) {
      const next = strokes[(first + step) % n]!;
      const last = chain.at(-1)!;
      const gap = (turnBetween(last.angleRad, next.angleRad) + 2 * Math.PI) % (2 * Math.PI);
      const before = chain.length < 2 ? gap : last.angleRad - chain.at(-2)!.angleRad;
      if (Math.abs(Math.log(gap / before)) > 0.22) break;
      chain.push({ ...next, angleRad: last.angleRad + gap });
    }
    if (chain.length > best.length) best = chain;
  }
  return best;
}
