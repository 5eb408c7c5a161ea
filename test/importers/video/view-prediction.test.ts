import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { FollowedFrame } from "../../../src/importers/video/frame-follower.js";
import { polarGrid } from "../../../src/importers/video/needle-patch.js";
import { steadied } from "../../../src/importers/video/view-prediction.js";
import { type Warp, warped } from "../../../src/importers/video/warp.js";

const LENGTH_PX = 380;
const PIVOT = { x: 900, y: 700 };
const FRAME_S = 1 / 30;
/** Time between two rows of the camera. */
const ROW_S = 0.018 / 1080;
const ROLL_NOISE_PX = 0.02;
const HELD_NOISE_PX = 0.1;
const grid = polarGrid(PIVOT, 150, 330, 2);

const shiftAt = (timeS: number) => 6 * Math.sin(2 * Math.PI * 1.3 * timeS) + 2 * Math.sin(2 * Math.PI * 3.1 * timeS);
const speedAt = (timeS: number) => (shiftAt(timeS + 1e-5) - shiftAt(timeS - 1e-5)) / 2e-5;
const rollAt = (timeS: number) => 0.004 * Math.sin(2 * Math.PI * 0.9 * timeS + 1);

/** A camera that moves sideways and rolls while its rows are read one after the other: the shift's speed shears the dial. */
function trueWarp(timeS: number): Warp {
  const roll = rollAt(timeS);
  return {
    ...{ centreX: PIVOT.x, centreY: PIVOT.y, shiftX: shiftAt(timeS), shiftY: 0 },
    ...{ a: 0, b: -roll + ROW_S * speedAt(timeS), c: roll, d: 0 },
    ...{ e: 0, m: 0, p: 0, n: 0, q: 0 },
  };
}

/**
 * Frames whose shear, `b` and `c` alike, errs and takes the roll with it, as a fit that can hardly tell the two apart; by so
 * many times as much as `poorness` says, which the covariance states.
 */
function clip(
  frameCount: number,
  seed: number,
  timeOf = (index: number) => index * FRAME_S,
  poorness: (index: number) => number = () => 1,
): FollowedFrame[] {
  const random = randomSource(seed);
  return Array.from({ length: frameCount }, (_, index) => {
    const truth = trueWarp(timeOf(index));
    const poor = poorness(index);
    const held = poor * HELD_NOISE_PX * random.normal();
    const roll = held + poor * ROLL_NOISE_PX * random.normal();
    const [errorB, errorC] = [held - roll, held + roll];
    const other = () => 0.01 * random.normal();
    const covariance = new Float64Array(121);
    for (let part = 0; part < 11; part++) covariance[12 * part] = 0.01 ** 2;
    const [heldSquare, rollSquare] = [(poor * HELD_NOISE_PX) ** 2, (poor * ROLL_NOISE_PX) ** 2];
    covariance[3 * 11 + 3] = rollSquare;
    covariance[4 * 11 + 4] = 4 * heldSquare + rollSquare;
    covariance[3 * 11 + 4] = -rollSquare;
    covariance[4 * 11 + 3] = -rollSquare;
    const warp: Warp = {
      ...truth,
      shiftX: truth.shiftX + other(),
      shiftY: truth.shiftY + other(),
      a: truth.a + other() / LENGTH_PX,
      b: truth.b + errorB / LENGTH_PX,
      c: truth.c + errorC / LENGTH_PX,
      d: truth.d + other() / LENGTH_PX,
      e: other() / LENGTH_PX ** 2,
      m: other() / LENGTH_PX ** 2,
      p: other() / LENGTH_PX ** 2,
      n: other() / LENGTH_PX ** 2,
      q: other() / LENGTH_PX ** 2,
    };
    const bandCount = grid.bandRadiusPx.length;
    return {
      timeS: timeOf(index),
      registration: { warp, gain: 1, offset: 0, blur: 0, residual: 2, match: 1, agreeing: 1, covariance },
      patch: {
        ...{ firstStep: 0, stepCount: 1, bandCount, values: new Float32Array(bandCount) },
        bandOffsets: new Float64Array(bandCount),
      },
      fit: {
        ...{
          step: -Math.PI / 3 / grid.stepRad,
          formalU: 0.1,
          turnPerContrast: 2,
          gain: 1,
          blur: 0,
          explained: 1,
          residual: 1,
          sampleCount: 1,
          lateral: 0,
          freeLateral: 0,
        },
        ...{ bandShifts: new Float64Array(bandCount), bandVariances: new Float64Array(bandCount) },
        lightSlopes: new Float64Array(bandCount),
      },
    };
  });
}

/** RMS of the roll's error, pixels at the rim, of the frames that have two neighbours on either side. */
function rollError(frames: readonly FollowedFrame[]): number {
  const inner = frames.slice(2, -2);
  const squares = inner.map(({ timeS, registration }) => {
    const [warp, truth] = [registration!.warp, trueWarp(timeS)];
    return ((LENGTH_PX * (warp.c - warp.b - truth.c + truth.b)) / 2) ** 2;
  });
  return Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / squares.length);
}

describe("steadied", () => {
  it("takes the shear's doubt off the roll where the neighbours tell the shear", () => {
    const frames = clip(200, 5);
    const before = rollError(frames);
    // The error was drawn: held and own part in one.
    expect(before).toBeGreaterThan(0.9 * Math.hypot(HELD_NOISE_PX, ROLL_NOISE_PX));
    // A mean of four neighbours leaves a half of the held error at best, and a frame's own error some of the rest.
    expect(rollError(steadied(frames, grid, LENGTH_PX))).toBeLessThan(0.75 * before);
  });

  it("leans on the neighbours in a frame that is seen worse than usual, by as much as its covariance says", () => {
    const isPoor = (index: number) => index % 10 === 5;
    const frames = clip(300, 9, undefined, (index) => (isPoor(index) ? 4 : 1));
    const poorOnly = (all: readonly FollowedFrame[]) => [
      ...all.slice(0, 2),
      ...all.filter((_, index) => isPoor(index)),
      ...all.slice(-2),
    ];
    // What the mean of good neighbours leaves of the held error, 0.07 to 0.1, and the roll's own, 0.08, are a third of 0.41.
    expect(rollError(poorOnly(steadied(frames, grid, LENGTH_PX)))).toBeLessThan(0.5 * rollError(poorOnly(frames)));
  });

  it("tells the needle's patch how far each band moved: the place in the picture stays the same", () => {
    const frames = clip(120, 6);
    const result = steadied(frames, grid, LENGTH_PX);
    let largest = 0;
    result.forEach((frame, index) => {
      const { warp } = frame.registration!;
      const [first, last] = [frames[index]!, frame];
      const angle = first.fit!.step * grid.stepRad;
      for (const [band, radius] of grid.bandRadiusPx.entries()) {
        const turned = angle - last.patch!.bandOffsets[band]! * grid.stepRad;
        const at = (phi: number, of: Warp) =>
          warped(of, PIVOT.x + radius * Math.cos(phi), PIVOT.y + radius * Math.sin(phi));
        const [from, to] = [at(angle, first.registration!.warp), at(turned, warp)];
        const across = (to.y - from.y) * Math.cos(angle) - (to.x - from.x) * Math.sin(angle);
        expect(Math.abs(across)).toBeLessThan(0.003);
        largest = Math.max(largest, Math.abs(last.patch!.bandOffsets[band]! * grid.stepRad * radius));
      }
    });
    expect(largest).toBeGreaterThan(0.05);
  });

  it("leaves a short clip, frames beside a gap and frames at uneven times as they are", () => {
    const short = clip(50, 7);
    expect(steadied(short, grid, LENGTH_PX)).toEqual(short);
    const uneven = clip(120, 8, (index) => (index < 60 ? index : index + 1) * FRAME_S);
    uneven[20] = { ...uneven[20]!, registration: null, patch: null, fit: null };
    const result = steadied(uneven, grid, LENGTH_PX);
    const same = result.flatMap((frame, index) => (frame === uneven[index] ? [index] : []));
    expect(same).toEqual([0, 1, 18, 19, 20, 21, 22, 58, 59, 60, 61, 118, 119]);
  });
});
