import type { FrameFault, NeedleReading } from "./needle-reading.js";

const FAULT_WORDS: Readonly<Record<FrameFault, string>> = {
  "dial-lost": "the dial was out of view or hidden",
  "needle-hidden": "the needle was hidden",
  "needle-astray": "something else was seen that looks like the needle",
  "beyond-scale": "the needle stood outside the marked scale",
  "picture-repeated": "the film repeats the picture before",
};

const DIRECTION_WORDS: Readonly<Record<NeedleReading["dial"]["directionBy"], string>> = {
  marks: "as the marks do",
  profile: "as it says",
  battery: "since only so its battery can stand where the needle does",
  "power-up": "since the needle rested at the other end before the bus had power",
};

/** Gaps shorter than this are told by their number only. */
const WORTH_TELLING_S = 0.3;

/** From this share on, what moved the needle may as well have been the phone: no dip is clear of it by 2.5 times. */
const DOUBTED_GAIN = 0.4;
const NOT_THE_NEEDLE =
  "what moved may not have been the needle, as where the phone moves with the switch or print runs along the needle: film again with the phone at rest";

/** What all depths from a film share. */
export function sharedGainText(gainUncertainty: number): string {
  const percent = (100 * gainUncertainty).toPrecision(2);
  return `All depths share the scale of this film, known to ${percent} % (standard uncertainty); their intervals hold it.`;
}

/** What a person should know of readings from film: decoder, frames, doubt that they share, and gaps. */
export function filmFacts(decoder: string, reading: NeedleReading): string[] {
  const { frameQuality, timesS, offsetUncertaintyV, gainUncertainty, gaps, dial } = reading;
  const long = gaps.filter(({ startS, endS }) => endS - startS >= WORTH_TELLING_S);
  const short = gaps.length - long.length;
  return [
    `decoder: ${decoder}`,
    `frames: ${frameQuality.length}, of which ${timesS.length} gave a reading`,
    `scale: from ${dial.scaleFrom === "marks" ? "the marks that were pointed out" : `the meter in the profile, its volts rising ${risesClockwise(dial) ? "clockwise" : "anticlockwise"} ${DIRECTION_WORDS[dial.directionBy]}`}, ${dial.marks.length} marks found on the dial`,
    `common offset u_V: ${offsetUncertaintyV.toPrecision(2)}`,
    `gain u: ${gainUncertainty.toPrecision(2)} of every movement, common to all and not in the uncertainties of the readings; it counts in every depth`,
    ...(gainUncertainty < DOUBTED_GAIN ? [] : [`caution: ${NOT_THE_NEEDLE}`]),
    ...strangerFacts(frameQuality),
    ...long.map(
      ({ startS, endS, fault }) =>
        `gap: no reading from ${startS.toFixed(3)} to ${endS.toFixed(3)} s, ${FAULT_WORDS[fault]}`,
    ),
    ...(short === 0 ? [] : [`gaps under ${WORTH_TELLING_S} s: ${short}`]),
  ];
}

/** What was left out because the needle was away and back between two frames. */
function strangerFacts(frameQuality: NeedleReading["frameQuality"]): string[] {
  const count = frameQuality.filter(({ fault }) => fault === "needle-astray").length;
  if (count === 0) return [];
  return [
    `caution: in ${count} frames something stood on the dial that looks like the needle, elsewhere than before and after and without a movement between; they give no reading: film again with nothing over the dial`,
  ];
}

function risesClockwise({ curve, needle }: NeedleReading["dial"]): boolean {
  return curve.slopeAt(needle.angleRad) > 0;
}
