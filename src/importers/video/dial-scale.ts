import type { BatteryProfile, MeterProfile } from "../../core/index.js";
import { type Place, turnBetween } from "./dial-geometry.js";
import { type MarksFault, marksFault } from "./marks-check.js";
import type { SeenStroke } from "./pivot-fit.js";
import { type ScaleCurve, scaleCurve } from "./scale-curve.js";
import { type DirectionTold, type ScaleDirection, scaleDirection } from "./scale-direction.js";
import { type SnappedMark, type StrokeBand, scaleStrokes, snapMarks } from "./scale-marks.js";
import type { GrayPlane } from "./smooth-sampling.js";
import { longestChain, onlyStrong, type StrokeRun, strokeRuns } from "./stroke-count.js";

/** A scale laid through marks or strokes. */
export interface DialScale {
  readonly marks: readonly SnappedMark[];
  readonly curve: ScaleCurve;
  /** What tells which way its volts rise. */
  readonly directionBy: "marks" | DirectionTold["by"];
  /** Printed strokes that it was laid through. */
  readonly strokes: readonly SeenStroke[];
  /** Looks for a contradiction between the marks and the print. */
  fault(): MarksFault | null;
}

/** Where the needle lies along a scale that may count either way, a share from its first stroke clockwise. */
export interface Undirected {
  readonly alongScale: number;
}

/** The scale through a person's marks, each moved onto its printed stroke; null when they are in no order. */
export function scaleFromMarks(
  plane: GrayPlane,
  pivot: Place,
  needleRad: number,
  clicks: readonly (Place & { readonly volts: number })[],
  meter: MeterProfile | undefined,
): DialScale | null {
  const { marks, band } = snapMarks(plane, pivot, clicks);
  const sorted = [...marks].sort((first, second) => first.volts - second.volts);
  const angles = inOrder(sorted, needleRad);
  if (angles === null) return null;
  const along = sorted.map((mark, index) => ({ ...mark, alongRad: angles[index]! }));
  const tone = band?.(1).tone ?? null;
  const counted = tone === null ? [] : strokeRuns(plane, pivot, along, tone);
  const runs = withoutDoubtfulEnds(counted, needleRad);
  const kept = runs.length === counted.length ? along : along.filter((mark) => marksOf(runs).has(mark.volts));
  const snapped = kept.filter((mark) => mark.snapped);
  const between = runs.flatMap((run) => run.knots);
  const knots = kept.map(({ alongRad, uAngleRad, volts }) => ({ angleRad: alongRad, uAngleRad, volts }));
  const strokes = [...snapped, ...between].map(({ angleRad, radiusPx }) => ({ angleRad, radiusPx, tone: tone! }));
  return {
    marks,
    directionBy: "marks",
    curve: scaleCurve([...knots, ...between]),
    strokes,
    fault: () => marksFault(plane, pivot, needleRad, along, runs, tone, meter?.scaleRises),
  };
}

/**
 * Runs at the ends of a scale may be too cramped to be counted: they are left out, with their outer marks, where the needle
 * stands on other runs that count up evenly.
 */
function withoutDoubtfulEnds(runs: readonly StrokeRun[], needleRad: number): readonly StrokeRun[] {
  const isClear = ({ verdict }: StrokeRun) => verdict === "even" || verdict === "bare";
  const kept = runs.slice(runs.findIndex(isClear), runs.findLastIndex(isClear) + 1);
  const isEven = kept.every(isClear) && kept.filter(({ verdict }) => verdict === "even").length >= 2;
  return isEven && kept.some((run) => holds(run, needleRad)) ? kept : runs;
}

function holds({ from, to }: StrokeRun, angleRad: number): boolean {
  const middle = (from.alongRad + to.alongRad) / 2;
  return Math.abs(turnBetween(middle, angleRad)) <= Math.abs(to.alongRad - from.alongRad) / 2;
}

function marksOf(runs: readonly StrokeRun[]): Set<number> {
  return new Set(runs.flatMap(({ from, to }) => [from.volts, to.volts]));
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

/**
 * The scale of a meter whose end values and smallest division the profile tells: a ring of regular strokes, exactly as many
 * as that makes; a word for what is missing when the strokes do not say so clearly, and where the needle lies along them when
 * nothing tells which way they count (`poweredUp` may). Without the division a part of a scale, or its long strokes, could pass for the whole.
 */
export function scaleFromProfile(
  plane: GrayPlane,
  pivot: Place,
  needleRad: number,
  face: { readonly scaleRadiusPx: number; readonly innerRadiusPx: number },
  known: {
    readonly meter?: MeterProfile;
    readonly battery?: BatteryProfile;
    readonly poweredUp: ScaleDirection | null;
  },
): DialScale | "no-scale" | Undirected {
  const { fullScaleV, smallestDivisionV, zeroV = 0 } = known.meter ?? {};
  if (fullScaleV === undefined || smallestDivisionV === undefined) return "no-scale";
  for (const tone of ["dark", "light"] as const) {
    const half = Math.max(1.5, 0.018 * face.scaleRadiusPx);
    for (const offset of [0, -0.01, 0.01, -0.02, 0.02, -0.03, 0.03]) {
      const middle = face.scaleRadiusPx * (1 + offset);
      const band = (): StrokeBand => ({ fromPx: middle - half, toPx: middle + half, tone });
      const strokes = onlyStrong(scaleStrokes(plane, pivot, band, -Math.PI, Math.PI));
      const chain = longestChain(strokes);
      if (chain.length < 6) continue;
      const division = (fullScaleV - zeroV) / (chain.length - 1);
      if (Math.abs(division / smallestDivisionV - 1) > 1e-6) continue;
      const radiusPx = middle;
      const counted = chain.map((stroke, index) => ({
        ...stroke,
        uAngleRad: Math.max(stroke.uAngleRad, 0.12 / radiusPx),
        volts: zeroV + index * division,
      }));
      const clockwiseV = scaleCurve(counted).voltsAt(needleRad);
      const told = scaleDirection(clockwiseV, { ...known.meter, fullScaleV }, known.battery, known.poweredUp);
      if (told === null) return { alongScale: (clockwiseV - zeroV) / (fullScaleV - zeroV) };
      const knots =
        told.rises === "clockwise"
          ? counted
          : counted.map((knot) => ({ ...knot, volts: zeroV + fullScaleV - knot.volts })).reverse();
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
        directionBy: told.by,
        curve: scaleCurve(knots),
        strokes: knots.map(({ angleRad }) => ({ angleRad, radiusPx, tone })),
        fault: () => null,
      };
    }
  }
  return "no-scale";
}
