import type { SwitchingMark } from "../core/index.js";
import { actionsInTurn, clickDirections, type NeedleTrace } from "../importers/video/audio/click-directions.js";
import { type SwitchClick, switchClicks } from "../importers/video/audio/switch-clicks.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";

/** What was heard of the switch. */
export interface HeardMarks {
  /** The clicks as switching marks; null where there are none, or their directions are not known. */
  readonly marksCsv: string | null;
  readonly sentence: string;
  /** One line for each click and for what was made of them. */
  readonly facts: readonly string[];
}

/**
 * How well a click in a film tells when the needle was made to move, s, standard uncertainty: sound that lies up to 0.17 s
 * off its picture is let pass (ITU-R BT.1359, from memory), taken as rectangular. By hand it is 0.2 s.
 */
const HEARD_S = 0.1;

/**
 * Switching marks from the clicks in a clip's sound. A click tells no direction: where the needle moves far beyond its
 * noise at some of them, they tell which clicks are on and which off; else they are taken in turn from on.
 */
export async function heardMarks(
  clip: Pick<NodeClip, "sound">,
  trace: NeedleTrace,
  signal?: AbortSignal,
): Promise<HeardMarks> {
  const sound = await clip.sound(signal);
  if (sound === null) return nothing("The clip has no sound, so there are no marks.", []);
  const clicks = switchClicks(sound);
  const facts = clicks.map(
    ({ timeS, strengthDb }) => `click: at ${timeS.toFixed(4)} s, ${strengthDb.toFixed(0)} dB over the noise around it`,
  );
  if (clicks.length === 0) return nothing("No click stands out of the sound, so there are no marks.", facts);
  const told = understood(clicks, trace);
  if (typeof told === "string") return nothing(told, facts);
  const { writeMarks } = await import("../importers/profile/marks.js");
  return { marksCsv: writeMarks(told.marks, HEARD_S), sentence: told.sentence, facts };
}

function understood(
  clicks: readonly SwitchClick[],
  trace: NeedleTrace,
): { readonly marks: SwitchingMark[]; readonly sentence: string } | string {
  const directions = clickDirections(
    clicks.map(({ timeS }) => timeS),
    trace,
  );
  const actions = actionsInTurn(directions);
  const heard = clicks.length === 1 ? "One click was" : `${clicks.length} clicks were`;
  if (actions === "not-in-turn")
    return `${heard} heard, but the needle does not fall and rise in turn at them: one was missed, is none of the switch's, or two loads overlap; no marks, write them by hand.`;
  if (actions === "none-clear") {
    if (clicks.length % 2 === 1)
      return `${heard} heard, an odd number, and the needle does not tell which is on and which is off: no marks.`;
    const turns = clicks.map((_, index): "on" | "off" => (index % 2 === 0 ? "on" : "off"));
    return {
      marks: marksOf(clicks, turns),
      sentence: `${heard} heard, taken in turn as on and off, which the needle does not tell; check them before use.`,
    };
  }
  const clear = directions.filter((direction) => direction !== "unclear").length;
  const sentence = `${heard} heard; on and off by the needle's own movement at ${clear} of them`;
  // An end without a beginning makes no dip.
  const lone = actions[0] === "off" ? 1 : 0;
  return {
    marks: marksOf(clicks.slice(lone), actions.slice(lone)),
    sentence: lone === 0 ? `${sentence}.` : `${sentence}; the first is an off whose on was not heard and is left out.`,
  };
}

function marksOf(clicks: readonly SwitchClick[], actions: readonly ("on" | "off")[]): SwitchingMark[] {
  return clicks.map(({ timeS }, index) => ({
    timeS: Number(timeS.toFixed(4)),
    load: null,
    action: actions[index]!,
  }));
}

function nothing(sentence: string, facts: readonly string[]): HeardMarks {
  return { marksCsv: null, sentence, facts: [...facts, `clicks: ${sentence.toLowerCase().replace(/\.$/, "")}`] };
}
