/**
 * The scale as the profile's meter tells it, no click, on dials of another hand than the samples': `npx tsx
 * test/bench/video/profile-scale.ts`. The needle stands at 0 to 30 V by 10; right is within 0.4 V at five places of the scale.
 */
import { findDial } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "../../importers/video/render/clip.js";
import { trueAngle } from "../../importers/video/render/face.js";
import { HELD_OUT, noClickFilming } from "./no-click-trial.js";

for (const [name, style] of HELD_OUT) {
  let [right, asked, wrong, worstV] = [0, 0, 0, 0];
  for (const needleV of [0, 10, 20, 30]) {
    const clip = renderedClip(style, { ...noClickFilming(style, 3), frameCount: 4, volts: () => needleV });
    const answer = await findDial(clip, { meter: { fullScaleV: 30, smallestDivisionV: 1 } });
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
  process.stdout.write(`${name}: ${right} right, ${asked} asked, ${wrong} wrong, worst ${worstV.toFixed(2)} V\n`);
}
