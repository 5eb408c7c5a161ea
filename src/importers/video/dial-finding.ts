import type { BatteryProfile, MeterProfile } from "../../core/index.js";
import type { Dial } from "./dial.js";
import { type NeedleLine, type Place, turnBetween } from "./dial-geometry.js";
import { type DialQuestion, question, rank } from "./dial-question.js";
import { type DialScale, scaleFromMarks, scaleFromProfile, type Undirected } from "./dial-scale.js";
import type { FrameSource, LumaFrame, PixelArea } from "./frame.js";
import { lineSegments } from "./line-segments.js";
import { neighboursAtRest } from "./needle-at-rest.js";
import { type MeasuredNeedle, measureNeedle, type RadialLine, radialLines } from "./needle-line.js";
import { fittedPivot } from "./pivot-fit.js";
import { type PivotCandidate, pivotCandidates } from "./pivot-search.js";
import type { ScaleCurve } from "./scale-curve.js";
import { powerUpDirection, type ScaleDirection } from "./scale-direction.js";
import type { SnappedMark } from "./scale-marks.js";
import type { GrayPlane } from "./smooth-sampling.js";
import { type Still, stillAt, stills, stillWith } from "./still.js";
import { hasTwin } from "./twin-line.js";
import { codedPlace } from "./upright.js";

/** What is known beforehand: a person's marks, and the meter and battery of the profile. */
export interface DialHints {
  readonly dial?: Dial;
  readonly meter?: MeterProfile;
  readonly battery?: BatteryProfile;
}

/** Dial and needle as found; places in coded pixels of the still. */
export interface DialFound {
  readonly kind: "found";
  readonly still: LumaFrame;
  /** The still with the noise of its neighbours averaged out; what frames are registered to. */
  readonly reference: GrayPlane;
  readonly pivot: Place;
  /** Standard uncertainty of the pivot along the needle, pixels. */
  readonly uPivotAlongPx: number;
  /** Radius of the scale and of the free face inside the strokes, pixels. */
  readonly scaleRadiusPx: number;
  readonly innerRadiusPx: number;
  readonly needle: NeedleLine;
  readonly marks: readonly SnappedMark[];
  readonly curve: ScaleCurve;
  /** Share of the doubt that is left about the needle, 0 to 1; 1 is sure. */
  readonly confidence: number;
  readonly scaleFrom: "marks" | "profile";
  readonly directionBy: DialScale["directionBy"];
}

/** How far from the pivot frames are registered, in radii of the scale, and a little more. */
const FACE_REACH = 1.55;

/** Finds pivot, needle and scale in a still, or says in one sentence what a person has to point out. */
export async function findDial(
  source: FrameSource,
  hints: DialHints = {},
  signal?: AbortSignal,
): Promise<DialFound | DialQuestion> {
  if (hints.dial !== undefined) {
    const still = await stillAt(source, hints.dial.still.timeS, aroundDial(source, hints.dial), signal);
    return still === null ? question("no-frame", null) : inStill(source, still, hints);
  }
  let first: DialQuestion | null = null;
  let tried = 0;
  const { fullScaleV, smallestDivisionV } = hints.meter ?? {};
  const scaleTold = fullScaleV !== undefined && smallestDivisionV !== undefined;
  let restedAt: number | null = null;
  for await (const still of stills(source, 3, signal)) {
    const alone = inStill(source, still, hints);
    if (alone.kind === "found") return alone;
    const poweredUp: ScaleDirection | null =
      restedAt === null || alone.alongScale === null ? null : powerUpDirection(restedAt, alone.alongScale);
    const found: DialFound | DialQuestion = poweredUp === null ? alone : inStill(source, still, hints, poweredUp);
    if (found.kind === "found") return found;
    restedAt ??= alone.alongScale;
    if (first === null || rank(found.code) > rank(first.code)) first = found;
    if ((found.code === "no-scale" && !scaleTold) || ++tried >= 4) break;
  }
  return first ?? question("no-frame", null);
}

/** Where the dial's face and its print must lie by a person's pivot and marks; null where no pivot was pointed out. */
function aroundDial(source: FrameSource, dial: Dial): PixelArea | null {
  if (dial.pivot === undefined) return null;
  const pivot = codedPlace(source, dial.pivot);
  const radii = dial.marks
    .map((mark) => codedPlace(source, mark))
    .map(({ x, y }) => Math.hypot(x - pivot.x, y - pivot.y));
  const reach = FACE_REACH * Math.max(...radii);
  const [left, top] = [Math.max(0, Math.floor(pivot.x - reach)), Math.max(0, Math.floor(pivot.y - reach))];
  return {
    x: left,
    y: top,
    width: Math.min(source.width, Math.ceil(pivot.x + reach)) - left,
    height: Math.min(source.height, Math.ceil(pivot.y + reach)) - top,
  };
}

interface FaceFound {
  readonly measured: MeasuredNeedle;
  readonly confidence: number;
  readonly scaleRadiusPx: number;
  readonly innerRadiusPx: number;
}

function inStill(
  source: FrameSource,
  still: Still,
  hints: DialHints,
  poweredUp: ScaleDirection | null = null,
): DialFound | DialQuestion {
  const marks = (hints.dial?.marks ?? []).map((mark) => ({ ...codedPlace(source, mark), volts: mark.volts }));
  const clicked = hints.dial?.pivot === undefined ? null : codedPlace(source, hints.dial.pivot);
  const candidates = pivots(still.mean, marks, clicked);
  if (candidates.length === 0) return question("no-dial", still.frame);
  const isPointedOut = marks.length > 0 && clicked !== null;
  const { plane, face } = faceAtRest(still, candidates, isPointedOut);
  if (face === null || "doubt" in face)
    return question(doubtOf(face, isPointedOut), still.frame, {
      pivot: candidates[0]!,
      scaleRadiusPx: candidates[0]!.ringPx,
    });
  const scaleAt = ({ pivot, needle }: MeasuredNeedle) =>
    marks.length > 0
      ? (scaleFromMarks(plane, pivot, needle.angleRad, marks, hints.meter) ?? "marks-off-dial")
      : scaleFromProfile(plane, pivot, needle.angleRad, face, { ...hints, poweredUp });
  const first = scaleAt(face.measured);
  const { measured: seen, scaleRadiusPx } = face;
  if (typeof first === "string") return question(first, still.frame, { ...seen, scaleRadiusPx });
  if ("alongScale" in first) return question("no-direction", still.frame, { ...seen, scaleRadiusPx, ...first });
  const { measured, scale, uPivotAlongPx } = settled(plane, face, first, clicked, scaleAt);
  const fault = scale.fault();
  if (fault !== null) return question(fault, still.frame, { ...measured, scaleRadiusPx: face.scaleRadiusPx });
  return {
    kind: "found",
    still: still.frame,
    reference: plane,
    pivot: measured.pivot,
    uPivotAlongPx,
    needle: measured.needle,
    scaleRadiusPx: face.scaleRadiusPx,
    innerRadiusPx: face.innerRadiusPx,
    marks: scale.marks,
    curve: scale.curve,
    confidence: face.confidence,
    scaleFrom: marks.length > 0 ? "marks" : "profile",
    directionBy: scale.directionBy,
  };
}

/** The face on the mean of those frames about the still in which the needle stands still. */
function faceAtRest(
  still: Still,
  candidates: readonly PivotCandidate[],
  isPointedOut: boolean,
): { plane: GrayPlane; face: ReturnType<typeof bestFace> } {
  const onAll = bestFace(still, candidates, isPointedOut);
  const isDouble = onAll !== null && "doubt" in onAll && onAll.doubt === "two-needles";
  const first = isDouble ? bestFace(stillWith(still, []), candidates, isPointedOut) : onAll;
  if (first === null || "doubt" in first) return { plane: still.mean, face: onAll };
  const { pivot, needle } = first.measured;
  const atRest = neighboursAtRest(still, pivot, needle);
  if (atRest.length === still.neighbours.length) return { plane: still.mean, face: onAll };
  const rested = stillWith(still, atRest);
  return { plane: rested.mean, face: bestFace(rested, candidates, isPointedOut) };
}

/** Where pivot and marks are pointed out already, pointing them out again would not tell two lines apart. */
function doubtOf(face: { readonly doubt: "two-needles" | "no-needle" } | null, isPointedOut: boolean) {
  if (face === null) return "no-needle";
  return face.doubt === "two-needles" && isPointedOut ? "second-pointer" : face.doubt;
}

/** Pivot, needle and scale, each measured again from the others until the pivot stays. */
function settled(
  plane: GrayPlane,
  face: FaceFound,
  start: DialScale,
  clicked: Place | null,
  scaleAt: (measured: MeasuredNeedle) => DialScale | Undirected | string,
): { measured: MeasuredNeedle; scale: DialScale; uPivotAlongPx: number } {
  let { measured } = face;
  let scale = start;
  const pointedOut = clicked ?? measured.pivot;
  for (let round = 0; ; round++) {
    const { pivot, needle } = measured;
    const fitted = fittedPivot(plane, pivot, needle.angleRad, pointedOut, scale.strokes);
    const uPivotAlongPx = fitted.uAlongPx;
    const apartPx = Math.hypot(fitted.x - pivot.x, fitted.y - pivot.y);
    if (round === 4 || apartPx < 0.1) return { measured, scale, uPivotAlongPx };
    const again = measureNeedle(plane, fitted, { ...needle, strength: 1 }, face.innerRadiusPx);
    if (again === null) return { measured, scale, uPivotAlongPx };
    const scaleAgain = scaleAt(again);
    if (typeof scaleAgain === "string" || "alongScale" in scaleAgain) return { measured, scale, uPivotAlongPx };
    measured = again;
    scale = scaleAgain;
  }
}

/** Places that may be the pivot: the click, or where strokes converge, equally far from the marks if there are any. */
function pivots(plane: GrayPlane, marks: readonly Place[], clicked: Place | null): PivotCandidate[] {
  if (clicked !== null) {
    const radius =
      marks.reduce((sum, mark) => sum + Math.hypot(mark.x - clicked.x, mark.y - clicked.y), 0) / marks.length;
    return [{ ...clicked, ringPx: radius, innerPx: 0.95 * radius, strokeCount: 0, uPx: 3, strokes: [] }];
  }
  const found = pivotCandidates(lineSegments(plane), plane);
  if (marks.length === 0) return found.filter((candidate) => candidate.strokeCount >= 10);
  return found.flatMap((candidate) => {
    const radii = marks.map((mark) => Math.hypot(mark.x - candidate.x, mark.y - candidate.y));
    const [least, most] = [Math.min(...radii), Math.max(...radii)];
    if (most > 1.25 * least || Math.abs(least - candidate.ringPx) > 0.3 * candidate.ringPx) return [];
    return [{ ...candidate, innerPx: Math.min(candidate.innerPx, least) }];
  });
}

/** The candidate with the clearest needle, or why there is none. */
function bestFace(
  { mean: plane, frame }: Still,
  candidates: readonly PivotCandidate[],
  pointedOut: boolean,
): FaceFound | { doubt: "two-needles" | "no-needle" } | null {
  let best: (FaceFound & { merit: number }) | null = null;
  let doubt: "two-needles" | null = null;
  const most = Math.max(...candidates.map((candidate) => candidate.strokeCount));
  for (const candidate of candidates) {
    if (candidate.strokeCount < 0.4 * most) continue;
    const lines = radialLines(plane, candidate, candidate.innerPx).filter((line) => line.strength > 1);
    const measured = lines
      .map((line) => ({ line, measured: measureNeedle(plane, candidate, line, candidate.innerPx) }))
      .filter((entry): entry is { line: RadialLine; measured: MeasuredNeedle } => entry.measured !== null);
    const [first, second] = measured;
    if (first === undefined) continue;
    if (second !== undefined && second.line.strength > 0.5 * first.line.strength && !isTail(first.line, second.line)) {
      doubt = "two-needles";
      continue;
    }
    // In the frame alone: a needle that turns meanwhile stands in the mean at two places.
    if (hasTwin({ ...frame, values: frame.luma }, first.measured)) {
      doubt = "two-needles";
      continue;
    }
    const merit = first.line.strength * (1 + candidate.strokeCount);
    const confidence =
      Math.min(1, first.line.strength / 4) * (pointedOut ? 1 : Math.min(1, candidate.strokeCount / 12));
    if (best === null || merit > best.merit)
      best = {
        measured: first.measured,
        confidence,
        scaleRadiusPx: candidate.ringPx,
        innerRadiusPx: candidate.innerPx,
        merit,
      };
  }
  if (best === null) return doubt === null ? null : { doubt };
  return best.confidence < 0.4 ? { doubt: "no-needle" } : best;
}

function isTail(needle: RadialLine, other: RadialLine): boolean {
  return Math.abs(turnBetween(needle.angleRad + Math.PI, other.angleRad)) < 0.1;
}
