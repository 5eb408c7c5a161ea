import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { polarGrid } from "../../../src/importers/video/needle-patch.js";
import { withoutQuickAside } from "../../../src/importers/video/quick-aside.js";
import { CLEAN_FIT } from "./clean-fit.js";

const grid = polarGrid({ x: 0, y: 0 }, 100, 300, 1);
const PER_TURN_PX = 200;
const COUNT = 300;
const timesS = Array.from({ length: COUNT }, (_, frame) => frame / 30);

/** Fits of a needle that turns as told, each moved aside by `shift` steps of turn; the free fit sees that, and `rough` beside it. */
function fitsOf(told: {
  readonly turn: (frame: number) => number;
  readonly shift: (frame: number) => number;
  readonly rough: (frame: number) => number;
}): NeedleFit[] {
  return timesS.map((_, frame) => ({
    ...CLEAN_FIT,
    step: told.turn(frame) + told.shift(frame),
    freeLateral: PER_TURN_PX * (told.shift(frame) + told.rough(frame)),
  }));
}

const steps = (fits: readonly (NeedleFit | null)[]) => fits.map((fit) => fit!.step);
const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, value) => sum + value ** 2, 0) / values.length);
const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Normal deviates, drawn anew for each use. */
function noise(seed: number, sd: number): (frame: number) => number {
  const random = randomSource(seed);
  const drawn = timesS.map(() => sd * random.normal());
  return (frame) => drawn[frame]!;
}

describe("withoutQuickAside", () => {
  it("takes off the share of a shift that theory tells, from a needle that dips", () => {
    const turn = (frame: number) => (frame > 100 && frame < 200 ? -30 : 0) - 0.01 * frame;
    const fits = fitsOf({ turn, shift: noise(1, 0.1), rough: noise(2, 0.2) });
    const errors = steps(withoutQuickAside(timesS, fits, grid, PER_TURN_PX)).map((step, frame) => step - turn(frame));
    // Best share 0.1^2 / (0.1^2 + 0.2^2) = 0.2, which leaves 0.1 sqrt(0.8) of 0.1; of 300 draws within 8 % (2 standard deviations).
    expect(rms(errors)).toBeLessThan(0.1 * Math.sqrt(0.8) * 1.08);
    expect(rms(errors)).toBeGreaterThan(0.1 * Math.sqrt(0.8) * 0.92);
  });

  it("leaves a needle alone whose shift tells nothing of its turn", () => {
    const fits = fitsOf({ turn: noise(3, 0.1), shift: () => 0, rough: noise(4, 0.2) });
    // A share is taken for sure beyond two standard uncertainties: by chance once in 44 clips.
    expect(withoutQuickAside(timesS, fits, grid, PER_TURN_PX)).toEqual(fits);
  });

  it("leaves what lasts: a shift by the beat of a switch moves no reading beyond a tenth of a second of it", () => {
    const [shift, rough] = [noise(5, 0.1), noise(6, 0.2)];
    const beat = (frame: number) => (frame >= 150 ? 3 : 0);
    const plain = steps(withoutQuickAside(timesS, fitsOf({ turn: () => 0, shift, rough }), grid, PER_TURN_PX));
    const aside = fitsOf({ turn: () => 0, shift, rough: (frame) => rough(frame) + beat(frame) });
    const moved = steps(withoutQuickAside(timesS, aside, grid, PER_TURN_PX));
    const differences = moved.map((step, frame) => step - plain[frame]!);
    const far = differences.filter((_, frame) => Math.abs(frame - 149.5) > 4);
    // Shares of the two clips differ by a part of what they are known to; all of 3 steps would move one side by 0.6.
    expect(Math.abs(mean(far.slice(150)) - mean(far.slice(0, 140)))).toBeLessThan(0.01);
    expect(moved).not.toEqual(steps(aside));
  });

  it("holds readings and the free shift together, and knows nothing of frames without a needle", () => {
    const fits: (NeedleFit | null)[] = fitsOf({ turn: () => 0, shift: noise(7, 0.1), rough: noise(8, 0.2) });
    fits[40] = null;
    const found = withoutQuickAside(timesS, fits, grid, PER_TURN_PX);
    expect(found[40]).toBeNull();
    found.forEach((fit, frame) => {
      const before = fits[frame];
      if (fit === null || before == null) return;
      // What was taken off the shift went to the turn: the free fit stays the same one.
      expect(fit.step + fit.lateral / PER_TURN_PX).toBeCloseTo(before.step + before.lateral / PER_TURN_PX, 9);
      // Bands lie where they lay: the common place at a band's radius and what the band adds.
      fit.bandShifts.forEach((shift, band) => {
        const place = fit.step + fit.lateral / grid.bandRadiusPx[band]! + shift;
        expect(place).toBeCloseTo(before.step + before.lateral / grid.bandRadiusPx[band]!, 9);
      });
    });
  });

  it("needs two seconds of a film", () => {
    const fits = fitsOf({ turn: () => 0, shift: noise(9, 0.1), rough: noise(10, 0.1) });
    expect(withoutQuickAside(timesS.slice(0, 60), fits.slice(0, 60), grid, PER_TURN_PX)).toEqual(fits.slice(0, 60));
  });
});
