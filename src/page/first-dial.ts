import type { DialPointing } from "./dial-pointing.js";
import type { KnownMeter } from "./known-meter.js";

/** That of a usual panel voltmeter of a 28 V bus (common practice, no source). */
const USUAL_FULL_SCALE_V = 30;

/** What was found; where the scale was not, two marks to be moved onto its ends, left and right. */
export function firstDial(
  still: DialPointing["still"],
  pivot: DialPointing["pivot"] | null,
  marks: DialPointing["marks"],
  { meter }: KnownMeter,
): DialPointing {
  if (pivot !== null && marks.length >= 2) return { still, pivot, marks };
  const { width, height } = still;
  const centre = pivot ?? { x: width / 2, y: 0.6 * height };
  const reach = Math.min(width, height) / 4;
  const { zeroV = 0, fullScaleV = USUAL_FULL_SCALE_V } = meter ?? {};
  const [left, right] = meter?.scaleRises === "anticlockwise" ? [fullScaleV, zeroV] : [zeroV, fullScaleV];
  return {
    still,
    pivot: centre,
    marks: [
      { x: Math.max(0, centre.x - reach), y: Math.max(0, centre.y - reach), volts: left },
      { x: Math.min(width, centre.x + reach), y: Math.max(0, centre.y - reach), volts: right },
    ],
  };
}

/** A turn between two marks that is surely the shorter way round. */
const SURE_TURN_RAD = (2 * Math.PI) / 3;

interface FoundMark {
  readonly volts: number;
  /** Direction from the pivot, carried on past a whole round. */
  readonly angleRad: number;
  readonly radiusPx: number;
}

/**
 * The outermost marks of a scale that was found, few enough to be looked over by a person, and where it turns more than
 * a third of a round so many evenly between them that they tell which way round it goes.
 */
export function foundMarks(
  pivot: { readonly x: number; readonly y: number },
  marks: readonly FoundMark[],
): DialPointing["marks"] {
  const sorted = [...marks].sort((a, b) => a.volts - b.volts);
  const [first, last] = [sorted[0], sorted.at(-1)];
  if (first === undefined || last === undefined || first === last) return [];
  const stepCount = Math.max(1, Math.ceil(Math.abs(last.angleRad - first.angleRad) / SURE_TURN_RAD));
  return Array.from({ length: stepCount + 1 }, (_, i) => {
    const between = (a: number, b: number) => a + ((b - a) * i) / stepCount;
    const [angle, radius] = [between(first.angleRad, last.angleRad), between(first.radiusPx, last.radiusPx)];
    const volts = Math.round(100 * between(first.volts, last.volts)) / 100;
    return { x: pivot.x + radius * Math.cos(angle), y: pivot.y + radius * Math.sin(angle), volts };
  });
}
