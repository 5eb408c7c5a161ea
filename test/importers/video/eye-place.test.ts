import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { walkOfTheEye } from "../../../src/importers/video/eye-place.js";
import { readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "./render/clip.js";
import { EVEN, found, hand } from "./render/readings.js";

const MARKS = [0, 10, 20, 30];
/** A switch that is held for one second of every two. */
const isOn = (timeS: number) => timeS % 2 >= 1;

/** Mean reading with the switch off less that with it on, each once needle and hand have come to rest. */
async function meanDipV(depthV: number, asideRadii: number): Promise<number> {
  const clip = renderedClip(EVEN, {
    ...{ ...hand, frameCount: 120, framesPerS: 20, seed: 5, parallax: 0.004 },
    volts: (timeS) => 24.3 - (isOn(timeS) ? depthV : 0),
    stance: (timeS) => ({ x: isOn(timeS) ? asideRadii : 0, y: 0 }),
  });
  const reading = await readNeedle(clip, await found(clip, MARKS));
  const mean = (on: boolean) => {
    const volts = [...reading.voltagesV].filter((_, at) => {
      const timeS = reading.timesS[at]!;
      return isOn(timeS) === on && timeS % 1 > 0.2 && timeS % 1 < 0.85;
    });
    return volts.reduce((sum, value) => sum + value, 0) / volts.length;
  };
  return mean(false) - mean(true);
}

describe("a phone that moves for as long as a switch is held", () => {
  // Taken for a turn, 0.003 radii aside read as 0.07 V here.
  it.each([
    [0, 0.003],
    [0.1, 0.003],
    [0.1, -0.003],
  ])("reads a dip of %f V as that, the needle seen %f radii aside", async (depthV, asideRadii) => {
    expect(Math.abs((await meanDipV(depthV, asideRadii)) - depthV)).toBeLessThan(0.01);
  });
});

describe("walkOfTheEye", () => {
  const clues = (shiftPx: (timeS: number, turnRad: number) => number, seed: number) => {
    const random = randomSource(seed);
    return Array.from({ length: 150 }, (_, at) => {
      const timeS = at / 30;
      const turnRad = timeS > 2 && timeS < 3.5 ? 0.08 : 0;
      return { timeS, shiftPx: shiftPx(timeS, turnRad) + 0.1 * random.normal(), turnRad };
    });
  };

  it("stands still on noise and on what a pivot that is off makes of a turn", () => {
    for (const seed of [1, 2, 3, 4, 5, 6]) {
      expect(
        walkOfTheEye(
          clues(() => 0, seed),
          1,
        ).uPx,
      ).toBe(0);
      expect(
        walkOfTheEye(
          clues((_, turnRad) => 1.5 * turnRad, seed),
          1,
        ).uPx,
      ).toBe(0);
    }
  });

  it("follows an eye that moves and stays, through frames without a needle", () => {
    const moved = (timeS: number) => (timeS > 1 && timeS < 2.6 ? 0.5 : 0);
    const seen = clues(moved, 7).map((clue, at) => (at % 7 === 3 ? { ...clue, shiftPx: Number.NaN } : clue));
    const { asidePx, uPx } = walkOfTheEye(seen, 1);
    const mean = seen.reduce((sum, { timeS }) => sum + moved(timeS), 0) / seen.length;
    const resting = seen.flatMap(({ timeS }, at) =>
      Math.abs(timeS - 1) > 0.15 && Math.abs(timeS - 2.6) > 0.15 ? [asidePx[at]! + mean - moved(timeS)] : [],
    );
    expect(uPx).toBeGreaterThan(0);
    expect(uPx).toBeLessThan(0.3);
    expect(Math.max(...resting.map(Math.abs))).toBeLessThan(2.5 * uPx);
  });
});
