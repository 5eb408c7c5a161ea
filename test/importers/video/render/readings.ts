import type { DialFound } from "../../../../src/importers/video/dial-finding.js";
import type { DialQuestion } from "../../../../src/importers/video/dial-question.js";
import { findDial, type NeedleReading } from "../../../../src/importers/video/needle-reading.js";
import type { Filming, RenderedClip } from "./clip.js";
import { type DialStyle, trueAngle } from "./face.js";

export const EVEN: DialStyle = {
  startDeg: -45,
  sweepDeg: 90,
  fullScaleV: 30,
  divisionV: 1,
  majorV: 5,
  bezel: "round",
};

/** A phone in a hand: 40 frames of a bus at 24.6 V that dips by 0.3 V. */
export const hand: Filming = {
  width: 420,
  height: 340,
  pivotX: 210,
  pivotY: 250,
  radiusPx: 160,
  frameCount: 40,
  framesPerS: 30,
  seed: 11,
  shakePx: 3,
  shakeRollDeg: 0.3,
  shakeScale: 0.002,
  noise: 2,
  glare: 15,
  slopeX: 0.03,
  volts: (timeS) => 24.6 - (timeS > 0.4 && timeS < 0.9 ? 0.3 : 0),
};

export function marksOf(clip: RenderedClip, volts: readonly number[]) {
  return volts.map((volt) => ({ volts: volt, ...clip.place(0, 1, trueAngle(clip.style, volt)) }));
}

/** What is found through true marks on the first frame. */
export async function dialOf(clip: RenderedClip, volts: readonly number[]): Promise<DialFound | DialQuestion> {
  const dial = {
    still: { timeS: 0, width: clip.width, height: clip.height },
    pivot: clip.place(0, 0, 0),
    marks: marksOf(clip, volts),
  };
  return findDial(clip, { dial });
}

export async function found(clip: RenderedClip, volts: readonly number[]): Promise<DialFound> {
  const answer = await dialOf(clip, volts);
  if (answer.kind === "question") throw new Error(answer.instruction);
  return answer;
}

export function errorsOf(clip: RenderedClip, reading: Pick<NeedleReading, "timesS" | "voltagesV">): number[] {
  return [...reading.voltagesV].map(
    (volts, index) => volts - clip.truthV[clip.timesS.indexOf(reading.timesS[index]!)]!,
  );
}
