import { describe, expect, it } from "vitest";
import { analyze, type BusProfile, type SwitchingMark } from "../../../src/core/index.js";
import type { FrameSource } from "../../../src/importers/video/frame.js";
import { readNeedle } from "../../../src/importers/video/needle-reading.js";
import { type PictureChange, repeatedPictures } from "../../../src/importers/video/repeated-pictures.js";
import { renderedClip } from "./render/clip.js";
import { EVEN, found, hand } from "./render/readings.js";

const SAME: PictureChange = { whole: 0.02, needle: 0 };
const NEW: PictureChange = { whole: 4, needle: 9 };
/** A key frame of the same picture. */
const ANEW: PictureChange = { whole: 1, needle: 2 };

/** Indices of the frames that repeat, at 30 frames a second. */
function repeats(changes: readonly PictureChange[]): number[] {
  const timesS = changes.map((_, index) => index / 30);
  return repeatedPictures(timesS, changes).flatMap((isRepeat, index) => (isRepeat ? [index] : []));
}
const times = (count: number, change: PictureChange) => Array.from({ length: count }, () => change);

describe("repeatedPictures()", () => {
  it("tells those of a clip that holds every picture twice, or four times", () => {
    expect(repeats([NEW, SAME, NEW, SAME, NEW, SAME])).toEqual([1, 3, 5]);
    expect(repeats([NEW, SAME, SAME, SAME, NEW, SAME, SAME, SAME, NEW])).toEqual([1, 2, 3, 5, 6, 7]);
  });

  it("takes a lone other one among long repeats for the same, and never a needle that moves before a face at rest", () => {
    const held = [NEW, NEW, ...times(10, SAME), ANEW, ...times(10, SAME), NEW, NEW];
    expect(repeats(held)).toEqual(Array.from({ length: 21 }, (_, index) => index + 2));
    expect(repeats(times(20, { whole: 0.1, needle: 3 }))).toEqual([]);
  });
});

const onTimesS = [1, 3.4, 5.8, 8.2].map((fromS) => ({ fromS, toS: fromS + 1.2 }));
const heldSince = (timeS: number) => onTimesS.find(({ fromS, toS }) => timeS > fromS && timeS < toS)?.fromS;
const marks = onTimesS.flatMap(({ fromS, toS }): SwitchingMark[] => [
  { timeS: fromS, load: "probe", action: "on" },
  { timeS: toS, load: "probe", action: "off" },
]);
/** Dips of 75 to 150 mV are acceptable. */
const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  meter: { frictionV: 0 },
  loads: [{ id: "probe", kind: "resistive", acceptA: [6, 12], reference: false }],
};

/** A phone too busy to film while the hand is on the switch: it shows the picture before for as long. */
function stalling(clip: FrameSource): FrameSource {
  return {
    ...clip,
    async *frames(area, signal, fromS) {
      let shown: Uint8Array | null = null;
      for await (const frame of clip.frames(area, signal, fromS)) {
        if (shown === null || heldSince(frame.timeS) === undefined) shown = frame.luma.slice();
        yield { ...frame, luma: shown };
      }
    },
  };
}

describe("readNeedle() of a clip that repeats pictures while a switch is held", () => {
  it("does not take them for a needle that stands still: a load of 0.1 V is not called dead", async () => {
    const clip = renderedClip(EVEN, {
      ...{ ...hand, frameCount: 200, framesPerS: 20, shakePx: 1.5, shakeRollDeg: 0.1, seed: 4 },
      volts: (timeS) => 24.2 + 0.1 * Math.exp(-timeS / 4) - (heldSince(timeS) === undefined ? 0 : 0.1),
    });
    const reading = await readNeedle(stalling(clip), await found(clip, [0, 10, 20, 30]));
    const load = analyze(reading, { marks, profile }).loads[0]!;
    expect([load.verdict, load.because]).toEqual(["undecided", "never-switched"]);
    expect([...reading.timesS].filter((timeS) => heldSince(timeS) !== undefined)).toEqual([]);
    expect(reading.gaps.map(({ fault }) => fault)).toEqual(onTimesS.map(() => "picture-repeated"));
  });
});
