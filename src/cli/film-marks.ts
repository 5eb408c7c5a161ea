import { marksInTurn } from "../importers/video/audio/click-marks.js";
import { switchClicks } from "../importers/video/audio/switch-clicks.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";

/** What was heard of the switch. */
export interface HeardMarks {
  /** The clicks as switching marks; null where they are none, or an odd number. */
  readonly marksCsv: string | null;
  readonly sentence: string;
  /** One line for each click and for what was made of them. */
  readonly facts: readonly string[];
}

/**
 * Switching marks from the clicks in a clip's sound, taken in turn as on and off, since a click tells no direction and
 * the readings must not choose it.
 */
export async function heardMarks(clip: NodeClip, signal?: AbortSignal): Promise<HeardMarks> {
  const sound = await clip.sound(signal);
  if (sound === null) return nothing("The clip has no sound, so there are no marks.", []);
  const clicks = switchClicks(sound);
  const facts = clicks.map(
    ({ timeS, strengthDb }) => `click: at ${timeS.toFixed(4)} s, ${strengthDb.toFixed(0)} dB over the noise around it`,
  );
  if (clicks.length === 0) return nothing("No click stands out of the sound, so there are no marks.", facts);
  const marks = marksInTurn(clicks);
  if (marks === null)
    return nothing(
      `${clicks.length} clicks were heard, an odd number, so which is on and which is off is not known: no marks.`,
      facts,
    );
  const { writeMarks } = await import("../importers/profile/marks.js");
  return {
    marksCsv: writeMarks(marks),
    sentence: `${clicks.length} clicks heard, taken in turn as on and off; check them before use.`,
    facts,
  };
}

function nothing(sentence: string, facts: readonly string[]): HeardMarks {
  return { marksCsv: null, sentence, facts: [...facts, `clicks: ${sentence.toLowerCase().replace(/\.$/, "")}`] };
}
