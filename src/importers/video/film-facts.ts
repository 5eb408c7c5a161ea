import type { FrameFault, NeedleReading } from "./needle-reading.js";

const FAULT_WORDS: Readonly<Record<FrameFault, string>> = {
  "dial-lost": "the dial was out of view or hidden",
  "needle-hidden": "the needle was hidden",
  "beyond-scale": "the needle stood outside the marked scale",
};

/** Gaps shorter than this are told by their number only. */
const WORTH_TELLING_S = 0.3;

/** What a person should know of readings from film: decoder, frames, doubt that they share, and gaps. */
export function filmFacts(decoder: string, reading: NeedleReading): string[] {
  const { frameQuality, timesS, offsetUncertaintyV, gainUncertainty, gaps, dial } = reading;
  const long = gaps.filter(({ startS, endS }) => endS - startS >= WORTH_TELLING_S);
  const short = gaps.length - long.length;
  return [
    `decoder: ${decoder}`,
    `frames: ${frameQuality.length}, of which ${timesS.length} gave a reading`,
    `scale: from ${dial.scaleFrom === "marks" ? "the marks that were pointed out" : `the meter in the profile, its volts rising ${risesClockwise(dial) ? "clockwise" : "anticlockwise"} as it says or only so its battery can stand where the needle does`}, ${dial.marks.length} marks found on the dial`,
    `common offset u_V: ${offsetUncertaintyV.toPrecision(2)}`,
    `gain u: ${gainUncertainty.toPrecision(2)} of every dip's depth, common to all and not in the uncertainties below`,
    ...long.map(
      ({ startS, endS, fault }) =>
        `gap: no reading from ${startS.toFixed(3)} to ${endS.toFixed(3)} s, ${FAULT_WORDS[fault]}`,
    ),
    ...(short === 0 ? [] : [`gaps under ${WORTH_TELLING_S} s: ${short}`]),
  ];
}

function risesClockwise({ curve, needle }: NeedleReading["dial"]): boolean {
  return curve.slopeAt(needle.angleRad) > 0;
}
