import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { evenBands } from "../../../src/importers/video/band-weights.js";
import { flankFollowing, flankUncertainty } from "../../../src/importers/video/flank-following.js";
import type { FollowedFrame } from "../../../src/importers/video/frame-follower.js";
import { fitNeedle } from "../../../src/importers/video/needle-fit.js";
import { type NeedlePatch, polarGrid } from "../../../src/importers/video/needle-patch.js";
import { needleProfile } from "../../../src/importers/video/needle-profile.js";
import { trackNeedle } from "../../../src/importers/video/needle-track.js";
import { unmoved } from "../../../src/importers/video/warp.js";

const grid = polarGrid({ x: 0, y: 0 }, 100, 300, 1);
const BANDS = grid.bandRadiusPx.length;
const [HALF, REACH, COUNT] = [70, 45, 60];

/** What lies all along the needle: a line at so many columns from where it stands first, of a contrast in gray levels. */
interface Line {
  readonly at: number;
  readonly contrast: number;
}

/** Patches of a dark needle, 5 columns wide, that turns by `turn` columns in the middle third of the clip, over lines that stay. */
function framesOf(turn: number, lines: readonly Line[], seed: number): FollowedFrame[] {
  const random = randomSource(seed);
  const bump = (column: number, width: number) => Math.exp(-0.5 * (column / width) ** 2);
  const frames = Array.from({ length: COUNT }, (_, frame): FollowedFrame => {
    const step = turnAt(turn, frame);
    const stepCount = 2 * HALF + 1;
    const values = Float32Array.from({ length: BANDS * stepCount }, (_, at) => {
      const column = (at % stepCount) - HALF;
      const print = lines.reduce((sum, line) => sum + line.contrast * bump(column - line.at, 3), 0);
      return 180 - 100 * bump(column - step, 5) - print + random.normal();
    });
    const patch: NeedlePatch = {
      ...{ firstStep: -HALF, stepCount, bandCount: BANDS, values, bandOffsets: new Float64Array(BANDS) },
    };
    const registration = {
      ...{ warp: unmoved(0, 0), gain: 1, offset: 0, blur: 0, residual: 1, match: 1, agreeing: 1 },
      covariance: new Float64Array(121),
    };
    return { timeS: frame / 30, registration, patch, fit: null };
  });
  const options = { bands: evenBands(BANDS), bandRadiusPx: grid.bandRadiusPx, lateral: 0 };
  return frames.map((frame, at) => ({
    ...frame,
    fit: fitNeedle(frame.patch!, firstProfile(frames), turnAt(turn, at), options),
  }));
}

const turnAt = (turn: number, frame: number) => (frame >= COUNT / 3 && frame < (2 * COUNT) / 3 ? turn : 0);
const firstProfile = ([first]: readonly FollowedFrame[]) => needleProfile(first!.patch!, grid, HALF, REACH);

/** The turn that was read over the true one, and its stated standard uncertainty by print. */
function readOf(turn: number, lines: readonly Line[], seed: number) {
  const frames = framesOf(turn, lines, seed);
  const { fits, uFollowing } = trackNeedle(frames, grid, firstProfile(frames));
  const mean = (isTurned: boolean) => {
    const those = fits.flatMap((fit, frame) => (fit !== null && (turnAt(1, frame) === 1) === isTurned ? fit.step : []));
    return those.reduce((sum, step) => sum + step / those.length, 0);
  };
  // Nothing where the needle was not seen as often as not: that is a gap, and no wrong reading.
  return { share: fits.filter(Boolean).length > 45 ? (mean(true) - mean(false)) / turn : null, uFollowing };
}

describe("print all along the needle", () => {
  it.each([0.4, 1, 3, 8])("is not seen where there is none: a turn by %d columns", (turn) => {
    const { share, uFollowing } = readOf(turn, [], 1);
    // Noise of one gray level leaves 0.005 columns of a turn's mean: four of them.
    expect(Math.abs(share! - 1)).toBeLessThan(0.02 / turn);
    expect(uFollowing).toBeLessThan(0.03);
  });

  it.each([0.4, 1, 3].flatMap((turn) => [-15, -10, -6, 6, 10, 15].map((at) => [turn, at] as const)))(
    "makes its turn's size doubtful by what it takes from it: a turn by %d columns, a line at %d",
    (turn, at) => {
      const { share, uFollowing } = readOf(turn, [{ at, contrast: 50 }], 2);
      if (share !== null) expect(Math.abs(share - 1)).toBeLessThan(2 * uFollowing + 0.02);
    },
  );

  it("tells nothing of a needle that hardly turns", () => {
    expect(readOf(0.004, [{ at: 8, contrast: 50 }], 3).uFollowing).toBe(0);
  });

  it("is seen in the strips where it lies, and the free flank turns with the needle", () => {
    const [turn, line] = [1, { at: 9, contrast: 50 }];
    const frames = framesOf(turn, [line], 4);
    const { fits, profile } = trackNeedle(frames, grid, firstProfile(frames));
    const { rates } = flankFollowing(frames, fits, profile, evenBands(BANDS).weights, grid)!;
    const share = readOf(turn, [line], 4).share!;
    expect(share).toBeLessThan(0.9);
    // Where nothing stays, a strip turns by the true turn: its rate is the true turn over the one read.
    expect(Math.max(...rates.subarray(0, 4)) * share).toBeGreaterThan(1 - 0.5 * (1 - share));
    expect(Math.min(...rates.subarray(4))).toBeLessThan(0.5);
    expect(flankUncertainty({ rates, u: new Float64Array(8), doubted: 0 })).toBeGreaterThan(0.1);
  });

  it("needs eight frames", () => {
    const frames = framesOf(3, [], 5).slice(17, 24);
    const fits = frames.map(({ fit }) => fit);
    expect(flankFollowing(frames, fits, firstProfile(frames), evenBands(BANDS).weights, grid)).toBeNull();
  });
});
