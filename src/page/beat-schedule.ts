import { onTimesOf, QUIET_S, type SwitchingPattern } from "../core/index.js";

/** How well a hand follows the beat, standard uncertainty. Common practice, no source. */
export const BEAT_UNCERTAINTY_S = 0.3;

/** One change that the person is asked to make. */
export interface BeatStep {
  readonly timeS: number;
  readonly load: string | null;
  readonly action: "on" | "off";
}

export interface BeatSchedule {
  readonly steps: readonly BeatStep[];
  readonly totalS: number;
}

/**
 * The whole beat: each load in turn by its own pattern, with the quiet that the plan reckons with before the first, after
 * the last and between them.
 */
export function beatSchedule(
  loads: readonly { readonly id: string | null; readonly pattern: SwitchingPattern }[],
): BeatSchedule {
  const steps: BeatStep[] = [];
  let timeS = QUIET_S;
  for (const { id, pattern } of loads) {
    for (const { onsetS, releaseS } of onTimesOf(pattern, timeS)) {
      steps.push({ timeS: onsetS, load: id, action: "on" }, { timeS: releaseS, load: id, action: "off" });
    }
    timeS += pattern.lengthS + QUIET_S;
  }
  return { steps, totalS: timeS };
}

/** Where a beat stands: the step that was last due, the one to come, and the seconds until then. */
export function beatAt(
  schedule: BeatSchedule,
  timeS: number,
): { readonly done: number; readonly next: BeatStep | null; readonly inS: number } {
  const done = schedule.steps.filter((step) => step.timeS <= timeS).length;
  const next = schedule.steps[done] ?? null;
  return { done, next, inS: (next?.timeS ?? schedule.totalS) - timeS };
}
