import type { SwitchingMark } from "../core/index.js";
import type { LogOptions } from "../importers/browser.js";
import type { DialPointing } from "./dial-pointing.js";
import type { FilmOrigin } from "./film-origin.js";
import { type Draft, draftOf, draftText } from "./profile-draft.js";

/** A file kept on the device under `id`. */
export interface KeptFile {
  readonly id: string;
  readonly name: string;
  readonly byteCount: number;
}

/** What the person has given and done so far; everything that a reload must bring back. */
export interface Work {
  readonly kind: "log" | "clip";
  /** The log, or the clip; null before one was chosen. */
  readonly file: KeptFile | null;
  /** Readings that were read from the clip, as a recording CSV; null before. */
  readonly clipReadings: KeptFile | null;
  readonly dial: DialPointing | null;
  /** What else is known of a clip that was read; null before, and for a log. */
  readonly film: FilmOrigin | null;
  readonly logOptions: LogOptions;
  readonly profileText: string | null;
  readonly marks: readonly SwitchingMark[];
  /** How well the marked times are known, standard uncertainty. */
  readonly markUncertaintyS: number;
  /** Moment of the marks' zero since the epoch, where the beat was not given to a camera; null where marks count from the recording's zero. */
  readonly marksZeroEpochS: number | null;
  /** Kept judgement; null before, and again when an input changes. */
  readonly judgedId: string | null;
}

/** Usual standard uncertainty of a marked time, as on the command line. */
export const USUAL_MARK_UNCERTAINTY_S = 0.2;

export const NO_WORK: Work = {
  kind: "log",
  file: null,
  clipReadings: null,
  dial: null,
  film: null,
  logOptions: {},
  profileText: null,
  marks: [],
  markUncertaintyS: USUAL_MARK_UNCERTAINTY_S,
  marksZeroEpochS: null,
  judgedId: null,
};

/** The same work without what rested on inputs that have changed. */
export function withInput(work: Work, change: Partial<Work>): Work {
  return { ...work, judgedId: null, ...change };
}

/** A step of the profile's form, as one of the work. */
export function withDraft(step: (now: Draft) => Draft): (work: Work) => Work {
  return (work) => withInput(work, { profileText: draftText(step(draftOf(work.profileText))) });
}

/** The work with another recording in the place of the one before. */
export function withRecording(work: Work, kind: Work["kind"], file: KeptFile, change: Partial<Work> = {}): Work {
  return withInput(work, { kind, file, clipReadings: null, dial: null, film: null, logOptions: {}, ...change });
}

/** The same work with other marks, in the order of their times. */
export function withMarks(work: Work, marks: readonly SwitchingMark[], change: Partial<Work> = {}): Work {
  return withInput(work, { marks: [...marks].sort((a, b) => a.timeS - b.timeS), ...change });
}

/** How well marks are known once one of them was set by hand. */
export function byHand({ markUncertaintyS }: Work): number {
  return Math.max(markUncertaintyS, USUAL_MARK_UNCERTAINTY_S);
}
