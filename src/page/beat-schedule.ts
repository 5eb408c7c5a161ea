/** One change that the person is asked to make. */
export interface BeatStep {
  readonly timeS: number;
  readonly load: string | null;
  readonly action: "on" | "off";
}

export interface BeatWishes {
  readonly loads: readonly (string | null)[];
  readonly switchingCount: number;
  readonly onS: number;
  readonly offS: number;
  /** Quiet before the first switching and after the last, so that the noise can be told. */
  readonly quietS: number;
}

export interface BeatSchedule {
  readonly steps: readonly BeatStep[];
  readonly totalS: number;
}

/** The whole beat: quiet, then each load in turn on and off the asked number of times, then quiet. */
export function beatSchedule(wishes: BeatWishes): BeatSchedule {
  const { loads, switchingCount, onS, offS, quietS } = wishes;
  const steps: BeatStep[] = [];
  let timeS = quietS;
  for (const load of loads) {
    for (let k = 0; k < switchingCount; k++) {
      steps.push({ timeS, load, action: "on" });
      steps.push({ timeS: timeS + onS, load, action: "off" });
      timeS += onS + offS;
    }
  }
  return { steps, totalS: timeS - offS + quietS };
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
