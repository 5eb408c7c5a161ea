/**
 * The scale as the profile's meter tells it, no click, on dials of another hand than the samples': `npx tsx
 * test/bench/video/profile-scale.ts`. Which way the volts rise is told by the profile (needle at 0 to 30 V by 10), or only
 * its battery is: 12 lead-acid cells (0 to 30 V by 10, and 22 to 28 V by 2); or nothing but the film is, which begins with a
 * needle at rest and goes on at 12 to 28 V by 4, or begins near full scale (a charger that is taken off, which tells nothing
 * and must be asked about). Right is within 0.4 V at five places of the scale.
 */
import { type DialHints, findDial } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "../../importers/video/render/clip.js";
import { type DialStyle, trueAngle } from "../../importers/video/render/face.js";
import { HELD_OUT, noClickFilming } from "./no-click-trial.js";

const METER = { fullScaleV: 30, smallestDivisionV: 1 };
const BATTERY = { chemistry: "lead-acid", cells: 12 } as const;

for (const [name, style] of HELD_OUT) {
  const scaleRises = style.sweepDeg > 0 ? "clockwise" : "anticlockwise";
  const told = await tally(style, [0, 10, 20, 30], { meter: { ...METER, scaleRises } });
  const byBattery = await tally(style, [0, 10, 20, 30, 22, 24, 26, 28], { meter: METER, battery: BATTERY });
  const byPowerUp = await tally(style, [12, 16, 20, 24, 28], { meter: METER }, 0);
  const fromAbove = await tally(style, [20, 24], { meter: METER }, 29.6);
  process.stdout.write(
    `${name}\n  told: ${told}\n  by the battery: ${byBattery}\n  by power-up: ${byPowerUp}\n  charger off: ${fromAbove}\n`,
  );
}

/** Answers to a needle at each voltage, or that goes there from `fromV` 2.5 s after the film's begin. */
async function tally(style: DialStyle, needlesV: readonly number[], hints: DialHints, fromV?: number): Promise<string> {
  let [right, asked, wrong, worstV] = [0, 0, 0, 0];
  for (const needleV of needlesV) {
    const filmed =
      fromV === undefined
        ? { frameCount: 4, volts: () => needleV }
        : { frameCount: 30, framesPerS: 5, volts: (timeS: number) => (timeS < 2.5 ? fromV : needleV) };
    const clip = renderedClip(style, { ...noClickFilming(style, 3), ...filmed });
    const answer = await findDial(clip, hints);
    if (answer.kind === "question") {
      asked += 1;
      continue;
    }
    const errorsV = [2, 8, 14, 20, 26].map((volts) => {
      const { x, y } = clip.place(0, 1, trueAngle(style, volts));
      return Math.abs(answer.curve.voltsAt(Math.atan2(y - answer.pivot.y, x - answer.pivot.x)) - volts);
    });
    const errorV = Math.max(...errorsV);
    worstV = Math.max(worstV, errorV);
    if (errorV < 0.4) right += 1;
    else wrong += 1;
  }
  return `${right} right, ${asked} asked, ${wrong} wrong, worst ${worstV.toFixed(2)} V`;
}
