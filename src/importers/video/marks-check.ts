import { type Place, turnBetween } from "./dial-geometry.js";
import type { ScaleDirection } from "./scale-direction.js";
import { CLICK_REACH_PX, type ScaleStroke, type StrokeBand, scaleStrokes } from "./scale-marks.js";
import type { GrayPlane } from "./smooth-sampling.js";
import { longestChain, type OrderedMark, onlyStrong, radiusBetween, type StrokeRun } from "./stroke-count.js";

/** Why marks that were pointed out cannot be what is printed on the dial. */
export type MarksFault =
  | { readonly code: "mark-off-stroke"; readonly volts: number }
  | { readonly code: "marks-uneven"; readonly fromV: number; readonly toV: number }
  | { readonly code: "marks-beside" }
  | { readonly code: "marks-against-profile"; readonly rises: ScaleDirection }
  | { readonly code: "two-marks-backwards" };

/** A mark this near to the needle may stand on a stroke that needle and shadow hide. */
const BESIDE_NEEDLE_RAD = 0.09;
/** Rate of volts over angle changes by less than this from one run of strokes to the next, as a logarithm. */
const STEADY_RATE_LOG = 0.35;
/** The same where there is nothing between the marks. */
const STEADY_BARE_LOG = 1.1;
/** Marks may be off by this much, all together, pixels: two marks, and more, whose agreement is no chance. */
const COMMON_REACH_PX = { two: 26, more: 60 };
/** Ink of a longer or thicker stroke over that of an ordinary one, at the least. */
const LONGER = 1.4;
/** So many regular strokes are a scale. */
const CHAIN_COUNT = 6;

/**
 * Holds a person's marks against the print: each on a stroke, strokes between them that count up evenly with their volts,
 * and no longer strokes beside them to which all would move together. Marks in order along the scale. They must rise as the
 * profile says; where it does not, two alone whose volts rise anticlockwise are more often exchanged than on such a dial
 * (common practice, no source): a third one tells.
 */
export function marksFault(
  plane: GrayPlane,
  pivot: Place,
  needleRad: number,
  marks: readonly OrderedMark[],
  runs: readonly StrokeRun[],
  tone: "dark" | "light" | null,
  profileRises: ScaleDirection | undefined,
): MarksFault | null {
  const rises = marks[1]!.alongRad < marks[0]!.alongRad ? "anticlockwise" : "clockwise";
  if (profileRises !== undefined && rises !== profileRises) return { code: "marks-against-profile", rises };
  if (profileRises === undefined && marks.length === 2 && rises === "anticlockwise")
    return { code: "two-marks-backwards" };
  const clear = (mark: OrderedMark) => Math.abs(turnBetween(mark.alongRad, needleRad)) > BESIDE_NEEDLE_RAD;
  const off = marks.find((mark) => !mark.snapped && clear(mark));
  const uneven = unevenRun(runs);
  const isCounted = off === undefined && uneven === null && runs.some(({ verdict }) => verdict === "even");
  if (!isCounted && hasScaleNear(plane, pivot, marks)) {
    const snapped = marks.filter((mark) => mark.snapped).length;
    if (off !== undefined && 2 * snapped > marks.length) return { code: "mark-off-stroke", volts: off.volts };
    if (off === undefined && uneven !== null)
      return { code: "marks-uneven", fromV: uneven.from.volts, toV: uneven.to.volts };
    return { code: "marks-beside" };
  }
  if (tone !== null && longerStrokesBeside(plane, pivot, marks.filter(clear), tone)) return { code: "marks-beside" };
  return null;
}

function unevenRun(runs: readonly StrokeRun[]): StrokeRun | null {
  for (const [index, run] of runs.entries()) {
    if (run.verdict === "uneven" || run.verdict === "unclear") return run;
    const before = runs[index - 1];
    if (before === undefined) continue;
    const limit = run.verdict === "bare" || before.verdict === "bare" ? STEADY_BARE_LOG : STEADY_RATE_LOG;
    const change = Math.log(run.gapV / run.firstGapRad / (before.gapV / before.lastGapRad));
    if (Math.abs(change) > limit) return run;
  }
  return null;
}

/** The scale's radius at every angle, by the marks; beyond them that of the last. */
function radiusAlong(marks: readonly OrderedMark[]): (angleRad: number) => number {
  const sorted = [...marks].sort((first, second) => first.alongRad - second.alongRad);
  return (angleRad) => {
    const next = sorted.findIndex((mark) => mark.alongRad > angleRad);
    if (next === 0) return sorted[0]!.radiusPx;
    if (next < 0) return sorted.at(-1)!.radiusPx;
    return radiusBetween(sorted[next - 1]!, sorted[next]!)(angleRad);
  };
}

function padded(marks: readonly OrderedMark[]): [number, number] {
  const along = marks.map((mark) => mark.alongRad);
  const [low, high] = [Math.min(...along), Math.max(...along)];
  const pad = Math.min((COMMON_REACH_PX.more + 10) / marks[0]!.radiusPx, Math.PI - (high - low) / 2);
  return [low - pad, high + pad];
}

/** Whether regular strokes are printed near the ring of the marks. */
function hasScaleNear(plane: GrayPlane, pivot: Place, marks: readonly OrderedMark[]): boolean {
  const radiusAt = radiusAlong(marks);
  const [from, to] = padded(marks);
  for (const tone of ["dark", "light"] as const) {
    for (let share = 0.84; share < 1.17; share += 0.02) {
      const band = (angle: number): StrokeBand => ({
        fromPx: (share - 0.015) * radiusAt(angle),
        toPx: (share + 0.015) * radiusAt(angle),
        tone,
      });
      if (longestChain(onlyStrong(scaleStrokes(plane, pivot, band, from, to))).length >= CHAIN_COUNT) return true;
    }
  }
  return false;
}

/** Whether every mark has a longer or thicker stroke at the same number of strokes to the same side. */
function longerStrokesBeside(
  plane: GrayPlane,
  pivot: Place,
  marks: readonly OrderedMark[],
  tone: "dark" | "light",
): boolean {
  if (marks.length < 2) return false;
  const radiusAt = radiusAlong(marks);
  const band = (angle: number): StrokeBand => ({ fromPx: 0.94 * radiusAt(angle), toPx: 1.085 * radiusAt(angle), tone });
  const [from, to] = padded(marks);
  const strokes = scaleStrokes(plane, pivot, band, from, to);
  const places = marks.map((mark) =>
    strokes.findIndex((stroke) => Math.abs(stroke.angleRad - mark.alongRad) * mark.radiusPx < CLICK_REACH_PX / 2),
  );
  if (places.some((place) => place < 0)) return false;
  const reachPx = marks.length > 2 ? COMMON_REACH_PX.more : COMMON_REACH_PX.two;
  const isLonger = (place: number, steps: number) => {
    const [own, other] = [strokes[place]!, strokes[place + steps]];
    if (other === undefined) return false;
    const apartPx = Math.abs(other.angleRad - own.angleRad) * radiusAt(own.angleRad);
    return apartPx < reachPx && inkOf(other) > LONGER * inkOf(own);
  };
  for (const side of [-1, 1]) {
    for (let steps = 1; steps <= 6; steps++) if (places.every((place) => isLonger(place, side * steps))) return true;
  }
  return false;
}

function inkOf(stroke: ScaleStroke): number {
  return stroke.contrast * stroke.widthRad;
}
