import type { BusProfile, MarkClock, Recording, SwitchingMark } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import { refuseUnusableMarks } from "../importers/profile/usable-marks.js";

/** Seconds to add to the marked times, or that they are to be found from the dips. */
export type MarkOffset = number | "find";

/** Marks as they are judged, as text, and what was done to them; null where nothing was. */
export interface SetMarks {
  readonly marks: readonly SwitchingMark[];
  readonly marksText: string | null;
  readonly sentence: string | null;
}

/** Reads the value of `--marks-offset`. */
export function markOffsetFrom(text: string): MarkOffset {
  if (text === "find") return text;
  const value = text.trim() === "" ? Number.NaN : Number(text);
  if (Math.abs(value) <= 1e9) return value;
  throw new InputError({
    problem: `--marks-offset is '${text}'`,
    remedy: "give the seconds to add to the marked times, or find to have them found from the dips",
  });
}

/**
 * Sets the marks on the recording's clock.
 *
 * @throws InputError where there are no marks, the dips do not tell the offset, or no mark can be judged
 */
export async function marksOnClock(
  given: { readonly marks: readonly SwitchingMark[]; readonly marksText: string | null },
  offset: MarkOffset | undefined,
  recording: Recording,
  profile: BusProfile | null,
): Promise<SetMarks> {
  if (offset === undefined) {
    refuseUnusableMarks(given.marks, recording);
    return { ...given, sentence: null };
  }
  if (given.marks.length === 0) {
    throw new InputError({
      problem: "--marks-offset stands without any marks",
      remedy: "give the marks with --marks, or leave --marks-offset out",
    });
  }
  const laterS = offset === "find" ? await foundOffset(given.marks, recording, profile) : offset;
  // To the millisecond: what is judged is what the record carries as text.
  const marks = given.marks.map((mark) => ({ ...mark, timeS: Math.round(1000 * (mark.timeS + laterS)) / 1000 }));
  const { writeMarks } = await import("../importers/profile/marks.js");
  const how = offset === "find" ? "found from the dips of all marked loads together" : "as told";
  const sentence = `${laterS.toFixed(offset === "find" ? 1 : 3)} s added to every marked time, ${how}`;
  refuseUnusableMarks(marks, recording);
  return { marks, marksText: writeMarks(marks), sentence };
}

async function foundOffset(
  marks: readonly SwitchingMark[],
  recording: Recording,
  profile: BusProfile | null,
): Promise<number> {
  const { markClock } = await import("../core/index.js");
  const clock = markClock(recording, marks, profile);
  if (clock.known) return clock.laterS;
  throw new InputError({ problem: FAULTS[clock.why], remedy: REMEDY });
}

const FAULTS: Record<Extract<MarkClock, { readonly known: false }>["why"], string> = {
  "too-slow": "the recording is read too slowly, or is too short, for --marks-offset find",
  "nothing-answers": "no dips of the recording follow the marks at any offset, so --marks-offset find finds none",
  "several-fit": "the dips of the recording fit the marks at several offsets, so --marks-offset find cannot tell which",
};
const REMEDY = "say the seconds to add to the marked times, or mark the times of the recording itself";
