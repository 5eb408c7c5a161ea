import { findDial } from "../../../src/importers/video/needle-reading.js";
import { type Filming, renderedClip } from "../../importers/video/render/clip.js";
import { type DialStyle, trueAngle } from "../../importers/video/render/face.js";

const EVEN: DialStyle = { startDeg: -45, sweepDeg: 90, fullScaleV: 30, divisionV: 1, majorV: 5, bezel: "round" };

/** Dials of another hand than the samples'. */
export const HELD_OUT: readonly (readonly [string, DialStyle])[] = [
  ["90 degrees, dark taper on light", EVEN],
  ["90 degrees, light bar on dark, square bezel", { ...EVEN, lightOnDark: true, needle: "bar", bezel: "square" }],
  ["60 degrees, bar", { ...EVEN, startDeg: -30, sweepDeg: 60, needle: "bar" }],
  ["100 degrees, uneven", { ...EVEN, startDeg: -50, sweepDeg: 100, law: (part) => part ** 1.4 }],
  ["120 degrees, anticlockwise", { ...EVEN, startDeg: 60, sweepDeg: -120 }],
  ["180 degrees, hand, light on dark", { ...EVEN, startDeg: -90, sweepDeg: 180, needle: "hand", lightOnDark: true }],
  ["240 degrees, with a tail", { ...EVEN, startDeg: -120, sweepDeg: 240, tail: 0.25 }],
  [
    "300 degrees, hand, light on dark, tail",
    { ...EVEN, startDeg: -150, sweepDeg: 300, needle: "hand", tail: 0.2, lightOnDark: true },
  ],
  ["90 degrees, no bezel, cluttered panel", { ...EVEN, bezel: "none", clutter: true }],
  ["90 degrees, no arc, no numbers", { ...EVEN, arc: false, numbers: false }],
];

/** A dial filmed by hand, the needle at 24.6 V. */
export function noClickFilming(style: DialStyle, seed: number): Filming {
  const wide = Math.abs(style.sweepDeg) > 150;
  return {
    width: 640,
    height: 480,
    pivotX: 322,
    pivotY: wide ? 243 : 330,
    radiusPx: wide ? 150 : 210,
    frameCount: 12,
    framesPerS: 30,
    seed,
    shakePx: 2,
    shakeRollDeg: 0.1,
    noise: 2.5,
    glare: 20,
    slopeX: 0.03,
    rollDeg: 2,
    volts: () => 24.6,
  };
}

/** Error of the needle's angle in degrees with no click, or the question that the reader asks instead. */
export async function noClickTrial(style: DialStyle, seed: number): Promise<number | string> {
  const clip = renderedClip(style, noClickFilming(style, seed));
  const answer = await findDial(clip, { meter: { fullScaleV: 30, smallestDivisionV: 1 } });
  const { still, pivot, needle } = answer;
  if (still === null || pivot === null || needle === null) return answer.kind === "question" ? answer.code : "nothing";
  const frame = clip.timesS.findIndex((timeS) => Math.abs(timeS - still.timeS) < 1e-6);
  const [root, tip] = [clip.place(frame, 0, 0), clip.place(frame, 0.8, trueAngle(style, 24.6))];
  const turn = needle.angleRad - Math.atan2(tip.y - root.y, tip.x - root.x);
  return (Math.atan2(Math.sin(turn), Math.cos(turn)) * 180) / Math.PI;
}
