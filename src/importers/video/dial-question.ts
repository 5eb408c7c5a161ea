import type { NeedleLine, Place } from "./dial-geometry.js";
import type { LumaFrame } from "./frame.js";
import type { MarksFault } from "./marks-check.js";

export type DialDoubt =
  | "no-frame"
  | "no-dial"
  | "no-needle"
  | "two-needles"
  | "second-pointer"
  | "no-scale"
  | "no-direction"
  | "marks-off-dial"
  | MarksFault["code"];

/** What the reading needs from a person: one plain instruction, and whatever was found so far. */
export interface DialQuestion {
  readonly kind: "question";
  readonly code: DialDoubt;
  readonly instruction: string;
  readonly still: LumaFrame | null;
  readonly pivot: Place | null;
  readonly needle: NeedleLine | null;
  readonly scaleRadiusPx: number | null;
  /** Where the needle lies along a scale that may count either way, a share from its first stroke clockwise. */
  readonly alongScale: number | null;
}

const INSTRUCTIONS: Readonly<Record<Exclude<DialDoubt, MarksFault["code"]>, string>> = {
  "no-frame": "The clip holds no picture at the time wanted: give the time of a still inside the clip.",
  "no-dial": "No dial with a needle was found: mark the pivot and two or more scale marks on the still.",
  "no-needle":
    "No needle was found on the dial (a digital display cannot be read): film a meter with a needle, or mark the pivot and two scale marks.",
  "two-needles":
    "More than one line looks like the needle: on one dial, cover all but the needle with paper as bright as the face and film again; of several meters, mark the pivot and two or more scale marks of the one to read.",
  "second-pointer":
    "Another line runs from the pivot as the needle does, and which of them to read cannot be told: turn it well away if it can be turned, cover it with paper as bright as the face, clear of the needle's way, and film again.",
  "no-scale":
    "The needle was found, but not what its scale means: mark two or more scale marks with their volts on the still, or give the meter's full_scale_V and smallest_division_V in the profile.",
  "no-direction":
    "The scale was found, but not which way its volts rise: give the meter's scale_rises (clockwise or anticlockwise) in the profile, begin the film before the bus has power, or mark three or more scale marks with their volts on the still.",
  "marks-off-dial":
    "The marks do not stand in order around one pivot: mark the pivot and the marks of one scale again.",
};

/** What to say of marks that contradict the print. */
function marksInstruction(fault: MarksFault): string {
  switch (fault.code) {
    case "mark-off-stroke":
      return `The mark at ${fault.volts} V stands on no printed stroke: point out the marks again on this still, each on its stroke.`;
    case "marks-uneven":
      return `The strokes printed about the marks at ${fault.fromV} V and ${fault.toV} V do not count up evenly with the volts: point out the marks again on this still, each on its stroke with its volts.`;
    case "two-marks-backwards":
      return "By the two marks the volts rise anticlockwise: if they are exchanged, exchange their volts; if the dial is such a one, point out a third mark between them, or give the meter's scale_rises in the profile.";
    case "marks-against-profile":
      return `By the marks the volts rise ${fault.rises}, by the meter's scale_rises in the profile they do not: correct the one that is wrong.`;
    case "marks-beside":
      return "The marks stand beside their printed strokes, as if pointed out on another picture: point them out again on this still, on the scale's long strokes.";
  }
}

/** How much was found before a question arose: the larger, the more. */
export function rank(code: DialDoubt): number {
  return ["no-frame", "no-dial", "no-needle", "two-needles", "no-scale", "no-direction"].indexOf(code);
}

/** A question about a still, with whatever was found on it. */
export function question(
  fault: keyof typeof INSTRUCTIONS | MarksFault,
  still: LumaFrame | null,
  found: { pivot?: Place; needle?: NeedleLine; scaleRadiusPx?: number; alongScale?: number } = {},
): DialQuestion {
  const isPlain = typeof fault === "string";
  return {
    kind: "question",
    code: isPlain ? fault : fault.code,
    instruction: isPlain ? INSTRUCTIONS[fault] : marksInstruction(fault),
    still,
    pivot: found.pivot ?? null,
    needle: found.needle ?? null,
    scaleRadiusPx: found.scaleRadiusPx ?? null,
    alongScale: found.alongScale ?? null,
  };
}
