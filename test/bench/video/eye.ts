/**
 * What a phone that moves while a switch is held makes of a dip: `npx tsx test/bench/video/eye.ts`.
 *
 * Rendered clips of 9 s, radius 210 px; the needle is seen aside by so many radii whenever the switch is on.
 */
import { readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "../../importers/video/render/clip.js";
import { EVEN, found, hand } from "../../importers/video/render/readings.js";

const isOn = (timeS: number) => timeS % 2 >= 1;

/** From off to on within 0.2 s about the switching, and back within 0.1 s before it. */
function heldShare(timeS: number): number {
  const inBeatS = timeS % 2;
  if (inBeatS < 0.9) return 0;
  if (inBeatS < 1.1) return (inBeatS - 0.9) / 0.2;
  return inBeatS < 1.9 ? 1 : (2 - inBeatS) / 0.1;
}

for (const asideRadii of [0, 0.001, -0.001, 0.002, -0.002, 0.004, -0.004]) {
  for (const depthV of [0, 0.1]) {
    const clip = renderedClip(EVEN, {
      ...{ ...hand, width: 640, height: 480, pivotX: 322, pivotY: 330, radiusPx: 210, frameCount: 180, framesPerS: 20 },
      ...{ seed: 3, shakeRollDeg: 0.1, parallax: 0.004, noise: 2.5, glare: 20, rollDeg: 2 },
      volts: (timeS) => 24.3 - (isOn(timeS) ? depthV : 0),
      stance: (timeS) => ({ x: asideRadii * heldShare(timeS), y: 0 }),
    });
    const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
    const mean = (on: boolean) => {
      const volts = [...reading.voltagesV].filter((_, at) => {
        const timeS = reading.timesS[at]!;
        return isOn(timeS) === on && timeS % 1 > 0.2 && timeS % 1 < 0.85;
      });
      return volts.reduce((sum, value) => sum + value, 0) / volts.length;
    };
    const uV = [...reading.readingUncertaintiesV].sort((a, b) => a - b)[reading.timesS.length >> 1]!;
    const read = (mean(false) - mean(true)).toFixed(4);
    process.stdout.write(
      `aside ${asideRadii} radii, dip ${depthV} V: read ${read} V, u of a reading ${uV.toFixed(4)} V, gain u ${reading.gainUncertainty.toFixed(3)}\n`,
    );
  }
}
