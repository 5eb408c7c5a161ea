import { describe, expect, it } from "vitest";
import { bandFollowing, followingBands, followingUncertainty } from "../../../src/importers/video/band-following.js";
import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "./render/clip.js";
import type { DialStyle } from "./render/face.js";
import { arcPrint, innerScale, prints, radialPrint } from "./render/prints.js";
import { normalDeviates } from "./render/random.js";
import { EVEN, errorsOf, found } from "./render/readings.js";

const DIP_V = 0.3;
const filming = {
  ...{ width: 640, height: 480, pivotX: 322, pivotY: 330, radiusPx: 210, frameCount: 36, framesPerS: 30, seed: 5 },
  ...{ shakePx: 3, shakeRollDeg: 0.1, parallax: 0.004, noise: 2.5, glare: 20, slopeX: 0.03, rollDeg: 2 },
  volts: (timeS: number) => (timeS < 0.6 ? 24.6 : 24.6 - DIP_V),
};

async function dipOn(style: DialStyle) {
  const clip = renderedClip(style, filming);
  const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
  const level = (during: boolean) => {
    const values = [...reading.voltagesV].filter((_, at) => reading.timesS[at]! < 0.59 === during);
    return values.reduce((sum, value) => sum + value, 0) / values.length;
  };
  const errors = errorsOf(clip, reading);
  const offsetV = errors.reduce((sum, error) => sum + error, 0) / errors.length;
  return { reading, offsetV, gainError: (level(true) - level(false)) / DIP_V - 1 };
}

describe("readNeedle() on dials with more print", () => {
  const dark: DialStyle = { ...EVEN, lightOnDark: true, needle: "bar" };
  it.each<[string, DialStyle]>([
    ["a second scale that the needle crosses", { ...EVEN, print: innerScale(EVEN, 40, 40) }],
    ["a needle of 0.7 of the scale's radius", { ...dark, needleLength: 0.7 }],
    ["a faint needle that passes a printed word", { ...EVEN, needleLevel: 140 }],
    [
      "coloured bands and radials, an edge under the needle's tip",
      {
        ...dark,
        print: prints(
          arcPrint(dark, [24.5, 28], [0.85, 0.985], 110),
          radialPrint(dark, 29, [0.75, 1.1], 90),
          radialPrint(dark, 20, [0.75, 1.1], 90),
        ),
      },
    ],
  ])("reads a dip within 3 per cent: %s", async (_, style) => {
    const { reading, offsetV, gainError } = await dipOn(style);
    expect(reading.timesS.length).toBeGreaterThanOrEqual(34);
    expect(Math.abs(gainError)).toBeLessThan(0.03);
    expect(Math.abs(offsetV)).toBeLessThan(2.5 * reading.offsetUncertaintyV);
  });

  it.each([
    ["light", EVEN, 150],
    ["dark", dark, 80],
  ] as const)(
    "tells a wide doubt of the gain where an edge of print runs all along the needle: %s",
    async (_, style, level) => {
      const { reading, gainError } = await dipOn({ ...style, print: arcPrint(style, [24, 30], [0.3, 0.98], level) });
      expect(Math.abs(gainError)).toBeLessThan(2.5 * reading.gainUncertainty);
    },
  );
});

describe("bandFollowing()", () => {
  /** Fits of 40 frames whose bands run ahead of the common turn as told. */
  function fits(ahead: readonly number[]): NeedleFit[] {
    const normal = normalDeviates(9);
    return Array.from({ length: 40 }, (_, at) => {
      const step = at < 20 ? 0 : 4;
      const bandShifts = Float64Array.from(ahead, (share) => share * step + 0.02 * normal());
      return { step: step + 0.005 * normal(), bandShifts } as unknown as NeedleFit;
    });
  }

  it("finds how far each band runs ahead, and which show the needle", () => {
    const truth = [0.4, 0.4, 0.41, 0.4, 0.39, -0.6, -0.6, -0.6, 0.1];
    const following = bandFollowing(fits(truth), truth.length)!;
    for (const [band, share] of truth.entries())
      expect(Math.abs(following.rates[band]! - 1 - share)).toBeLessThan(5 * following.u[band]!);
    expect(followingBands(following, new Float64Array(truth.length).fill(1))).toEqual([
      true,
      true,
      true,
      true,
      true,
      false,
      false,
      false,
      false,
    ]);
  });

  it("keeps all bands, and doubts nothing, where none is held back; of equally many, those that run ahead", () => {
    const even = bandFollowing(fits([0, 0, 0, 0, 0, 0]), 6)!;
    expect(followingBands(even, new Float64Array(6).fill(1))).toEqual([true, true, true, true, true, true]);
    expect(followingUncertainty(even, new Float64Array(6).fill(1))).toBe(0);
    const halves = bandFollowing(fits([-0.5, -0.5, -0.5, 0.5, 0.5, 0.5]), 6)!;
    expect(followingBands(halves, new Float64Array(6).fill(1))).toEqual([false, false, false, true, true, true]);
    expect(
      followingUncertainty(
        bandFollowing(fits([0.05, -0.05, 0.05, -0.05, 0.05, -0.05]), 6)!,
        new Float64Array(6).fill(1),
      ),
    ).toBeGreaterThan(0.15);
  });

  it("does not take noise for print where the needle turns little, but in a few of 100 clips", () => {
    const normal = normalDeviates(21);
    const doubted = Array.from({ length: 100 }, () => {
      const noisy = Array.from({ length: 40 }, (_, at) => ({
        step: at < 20 ? 0 : 0.2,
        bandShifts: Float64Array.from({ length: 10 }, () => 0.05 * normal()),
      }));
      const following = bandFollowing(noisy as unknown as NeedleFit[], 10)!;
      return followingUncertainty(following, new Float64Array(10).fill(1));
    }).filter((u) => u > 0);
    // 2 of 100 are expected; 9 or more have a chance below 1 in 1000.
    expect(doubted.length).toBeLessThan(9);
  });

  it("keeps all bands of a needle that hardly turned, whatever its noise makes of their rates", () => {
    // Errors of ten frames count as one: by 0.04 each, none of these rates is known to a tenth.
    const rates = Float64Array.of(1.67, 0.63, 1.28, 0.61, 1.1, 0.86, 0.92, 1.17, 0.66, 1.29);
    const weights = new Float64Array(10).fill(1);
    const known = (u: number) => followingBands({ rates, u: new Float64Array(10).fill(u) }, weights);
    expect(known(0.04)).toEqual(Array.from(rates, () => true));
    expect(known(0.004)).toContain(false);
  });

  it("says nothing of a clip of too few frames", () => {
    expect(bandFollowing(fits([0, 0, 0]).slice(0, 7), 3)).toBeNull();
  });
});
