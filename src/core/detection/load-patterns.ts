import type { Assumption } from "../notes.js";
import type { SwitchingMark } from "../series/recording.js";
import type { OnTime } from "./switching-template.js";

/** On-times of each load, in the order in which the loads are first switched; null stands for marks without a load. */
export interface LoadPatterns {
  readonly patterns: ReadonlyMap<string | null, readonly OnTime[]>;
  /** One `mark-ignored` for each mark that could not be used. */
  readonly ignored: readonly Assumption[];
}

/**
 * Pairs each load's `on` with its next `off`.
 *
 * A mark outside the recording, an `off` without its `on` and an `on` that another one follows before any `off` are left
 * out and said. A load still on at the end is taken as on up to the last reading, and its release as not told.
 */
export function loadPatterns(
  marks: readonly SwitchingMark[],
  recording: { readonly startS: number; readonly endS: number },
): LoadPatterns {
  const patterns = new Map<string | null, OnTime[]>();
  const ignored: Assumption[] = [];
  const open = new Map<string | null, SwitchingMark>();
  const sorted = [...marks].sort((a, b) => a.timeS - b.timeS);
  const ignore = (mark: SwitchingMark, why: "outside-recording" | "off-without-on" | "on-without-off") =>
    ignored.push({ code: "mark-ignored", timeS: mark.timeS, load: mark.load, why });
  for (const mark of sorted) {
    if (mark.timeS < recording.startS || mark.timeS > recording.endS) {
      ignore(mark, "outside-recording");
    } else if (mark.action === "on") {
      const before = open.get(mark.load);
      if (before !== undefined) ignore(before, "on-without-off");
      open.set(mark.load, mark);
    } else {
      const onsetS = open.get(mark.load)?.timeS;
      if (onsetS === undefined) ignore(mark, "off-without-on");
      else if (mark.timeS > onsetS) {
        open.delete(mark.load);
        append(patterns, mark.load, { onsetS, releaseS: mark.timeS });
      }
    }
  }
  for (const [load, { timeS: onsetS }] of open) {
    if (recording.endS > onsetS) append(patterns, load, { onsetS, releaseS: recording.endS, isReleaseTold: false });
  }
  return { patterns, ignored };
}

function append(patterns: Map<string | null, OnTime[]>, load: string | null, onTime: OnTime): void {
  const onTimes = patterns.get(load);
  if (onTimes === undefined) patterns.set(load, [onTime]);
  else onTimes.push(onTime);
}
