import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { bandWeights, evenBands } from "../../../src/importers/video/band-weights.js";
import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { polarGrid } from "../../../src/importers/video/needle-patch.js";
import { needleProfile } from "../../../src/importers/video/needle-profile.js";
import { CLEAN_FIT } from "./clean-fit.js";

const BANDS = 5;
const STEPS = 61;
const grid = polarGrid({ x: 0, y: 0 }, 100, 300, 1, BANDS);
const all = Array.from({ length: BANDS }, () => true);

/** A dark needle over the middle column, `contrast` gray levels deep in each band. */
function profileOf(contrasts: readonly number[]) {
  const values = Float32Array.from({ length: BANDS * STEPS }, (_, at) => {
    const [band, column] = [Math.floor(at / STEPS), at % STEPS];
    return 200 - contrasts[band]! * Math.exp(-(((column - 30) / 5) ** 2));
  });
  return needleProfile({ stepCount: STEPS, bandCount: BANDS, values }, grid, 30, 26);
}
const profile = profileOf([100, 100, 100, 100, 100]);

/** Fits whose bands scatter by `sds` steps about a common turn. */
function fitsOf(sds: readonly number[], count: number, commonOf: (frame: number) => number = () => 0): NeedleFit[] {
  const random = randomSource(7);
  return Array.from({ length: count }, (_, frame): NeedleFit => {
    const common = commonOf(frame);
    return {
      ...CLEAN_FIT,
      step: frame,
      bandShifts: Float64Array.from(sds, (sd) => common + sd * random.normal()),
      bandVariances: Float64Array.from(sds, () => 1),
    };
  });
}

describe("weights of a needle's bands", () => {
  it("are as the reciprocal squares of the bands' scatter, however well each band fits", () => {
    // The median of an odd number of bands that hardly scatter stands still, so that scatter is told as it was drawn.
    const { shares } = bandWeights(fitsOf([0.02, 0.4, 0.02, 0.8, 0.02], 4000), all, profile, grid);
    expect(shares[1]! / shares[3]!).toBeGreaterThan(3.6);
    expect(shares[1]! / shares[3]!).toBeLessThan(4.4);
    expect(shares[0]! / shares[1]!).toBeGreaterThan(20);
    expect(shares.reduce((sum, share) => sum + share, 0)).toBeCloseTo(1, 12);
  });

  it("know nothing of the needle's own turns, nor of a band that lies aside all the time", () => {
    const still = bandWeights(fitsOf([0.1, 0.2, 0.1, 0.3, 0.1], 500), all, profile, grid);
    const moved = bandWeights(
      fitsOf([0.1, 0.2, 0.1, 0.3, 0.1], 500, (frame) => 40 * Math.sin(frame)),
      all,
      profile,
      grid,
    );
    const aside = bandWeights(
      fitsOf([0.1, 0.2, 0.1, 0.3, 0.1], 500).map((fit) => ({
        ...fit,
        bandShifts: fit.bandShifts.map((shift, band) => shift + (band === 2 ? 5 : 0)),
      })),
      all,
      profile,
      grid,
    );
    expect([...moved.shares]).toEqual([...still.shares].map((share) => expect.closeTo(share, 9)));
    // A band that lies aside is never the median, which changes what the others are held against.
    expect(aside.shares[2]! / aside.shares[3]!).toBeGreaterThan(4);
  });

  it("take errors as alike in pixels where a clip is too short to tell", () => {
    const { shares } = bandWeights(fitsOf([0.1, 0.1, 0.1, 0.1, 0.1], 2), all, profile, grid);
    const radii = grid.bandRadiusPx;
    expect([...shares].map((share) => share / shares[0]!)).toEqual(
      [...radii].map((radius) => expect.closeTo((radius / radii[0]!) ** 2, 9)),
    );
  });

  it("give each band its share of the turn whatever its contrast", () => {
    const faint = profileOf([100, 50, 100, 100, 100]);
    const fits = fitsOf([0.1, 0.1, 0.1, 0.1, 0.1], 300);
    const [plain, held] = [bandWeights(fits, all, profile, grid), bandWeights(fits, all, faint, grid)];
    expect(held.shares[1]!).toBeCloseTo(plain.shares[1]!, 9);
    // A quarter of the squared slopes needs four times the weight.
    expect(held.weights[1]! / held.weights[0]! / (plain.weights[1]! / plain.weights[0]!)).toBeCloseTo(4, 5);
  });

  it("are zero where something else than the needle is shown, and even where nothing is known", () => {
    const shown = [true, false, true, true, true];
    const { shares, weights } = bandWeights(fitsOf([0.1, 0.01, 0.1, 0.1, 0.1], 300), shown, profile, grid);
    expect([shares[1], weights[1]]).toEqual([0, 0]);
    expect(bandWeights([null, null], all, profile, grid)).toEqual(evenBands(BANDS));
  });
});
