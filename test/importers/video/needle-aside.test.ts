import { describe, expect, it } from "vitest";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";
import { readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "./render/clip.js";
import { EVEN, found, hand } from "./render/readings.js";

const onTimesS = [1, 3.4, 5.8, 8.2].map((fromS) => ({ fromS, toS: fromS + 1.2 }));
const isOn = (timeS: number) => onTimesS.some(({ fromS, toS }) => timeS > fromS && timeS < toS);
const marks = onTimesS.flatMap(({ fromS, toS }): SwitchingMark[] => [
  { timeS: fromS, load: "probe", action: "on" },
  { timeS: toS, load: "probe", action: "off" },
]);
const profile = { meter: { frictionV: 0 }, loads: [{ id: "probe", kind: "heater", reference: false } as const] };

/** A needle that dips, and is seen aside by so many radii, while a switch is held. */
async function judged(depthV: number, asideRadii: number, seed: number) {
  const clip = renderedClip(EVEN, {
    ...{ ...hand, frameCount: 200, framesPerS: 20, shakePx: 1.5, shakeRollDeg: 0.1, parallax: 0.004, seed },
    volts: (timeS) => 24.3 - (isOn(timeS) ? depthV : 0),
    stance: (timeS) => ({ x: isOn(timeS) ? asideRadii : 0, y: 0 }),
  });
  const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
  const judge = (recording: Parameters<typeof analyze>[0]) => analyze(recording, { marks, profile }).loads[0]!;
  const { asidesV: _, ...without } = reading;
  return { reading, load: judge(reading), before: judge(without) };
}

describe("analyze() of a needle that was read from film", () => {
  // A phone that moves by 1.5 mm at a quarter of a metre sees a needle 2 mm above a face of 40 mm by 3e-4 radii aside.
  it("does not take an eye that moves by less than can be followed, for as long as a switch is held, for a dip", async () => {
    const all = [await judged(0, -0.0003, 4), await judged(0, -0.0003, 5), await judged(0, -0.0003, 6)];
    // The same readings without what they tell of it pass for a dip in some.
    expect(all.map(({ before }) => before.verdict)).toContain("responded");
    for (const { load, reading } of all) {
      expect(load.verdict).not.toBe("responded");
      expect(reading.asidesV.length).toBe(reading.timesS.length);
      expect(load.depth!.low).toBeLessThan(0);
    }
  });

  it("still sees a dip of 50 mV, whether the eye stays or moves", async () => {
    for (const asideRadii of [0, -0.0003]) {
      const { load } = await judged(0.05, asideRadii, 4);
      expect(load.verdict).toBe("responded");
      expect(load.depth!.low).toBeLessThan(0.05);
      expect(load.depth!.high).toBeGreaterThan(0.05);
    }
  });
});
