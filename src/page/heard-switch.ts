import type { ClipSound } from "../importers/video/audio/clip-sound.js";
import { type SwitchClick, switchClicks } from "../importers/video/audio/switch-clicks.js";
import type { SoundOutcome } from "../importers/video/browser/opened-clip.js";

/** Clicks heard in a clip, or one sentence on why there are none. */
export interface HeardSwitch {
  readonly clicks: readonly SwitchClick[];
  readonly problem: string | null;
  /** How well a click tells when the load was switched, standard uncertainty. */
  readonly uncertaintyS: number;
}

/** From the snap of a switch to its current. Common practice, no source. */
const SNAP_UNCERTAINTY_S = 0.03;

/** The clicks of a switch in the sound of a clip. */
export function heardSwitch(outcome: SoundOutcome): HeardSwitch {
  if (outcome.kind === "silent") return nothing("The clip has no sound, so the switch was not heard.");
  if (outcome.kind === "undecodable") {
    return nothing("This browser cannot decode the clip's sound, so the switch was not heard.");
  }
  const clicks = switchClicks(outcome.sound);
  if (clicks.length === 0) return nothing(noClick(outcome.sound));
  return { clicks, problem: null, uncertaintyS: Math.hypot(SNAP_UNCERTAINTY_S, outcome.clockUncertaintyS) };
}

function noClick({ sampleRateHz }: ClipSound): string {
  return sampleRateHz < 12_000
    ? "The clip's sound is too dull to tell the click of a switch."
    : "No click of a switch stands out of the clip's sound.";
}

function nothing(problem: string): HeardSwitch {
  return { clicks: [], problem, uncertaintyS: 0 };
}
