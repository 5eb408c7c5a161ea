import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { evenBands } from "../../../src/importers/video/band-weights.js";
import { fitNeedle, type NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { type NeedlePatch, polarGrid } from "../../../src/importers/video/needle-patch.js";
import { needleProfile } from "../../../src/importers/video/needle-profile.js";
import { inSteadyLight } from "../../../src/importers/video/steady-light.js";
import { CLEAN_FIT } from "./clean-fit.js";

const COUNT = 300;
const timesS = Array.from({ length: COUNT }, (_, frame) => frame / 30);
/** Steps that a turn is mistaken by for each gray level per step of slope. */
const PER_SLOPE = 2;

type Course = (frame: number) => number;

/** Frames of a needle that turns, in light that slopes; each fit mistakes `noise` for slope and, as theory has it, turn. */
function clip(told: { readonly turn: Course; readonly light: Course; readonly noise: Course }, count = COUNT) {
  const free = Array.from({ length: count }, (_, frame): NeedleFit => {
    const slope = told.light(frame) + told.noise(frame);
    return {
      ...CLEAN_FIT,
      step: told.turn(frame) + PER_SLOPE * told.noise(frame),
      lightSlopes: new Float64Array(10).fill(slope),
    };
  });
  // With a known slope the fit is the free one's, moved by what the slopes differ.
  const refit = (slopes: readonly (Float64Array | null)[]) =>
    free.map((fit, frame) => {
      const known = slopes[frame] ?? fit.lightSlopes;
      return { ...fit, step: fit.step + PER_SLOPE * (known[0]! - fit.lightSlopes[0]!), lightSlopes: known };
    });
  const errors = inSteadyLight(timesS.slice(0, count), free, refit).map((fit, frame) => fit!.step - told.turn(frame));
  return { free, errors };
}

/** Normal deviates, drawn anew for each use. */
function noise(seed: number, sd: number): Course {
  const random = randomSource(seed);
  const drawn = timesS.map(() => sd * random.normal());
  return (frame) => drawn[frame]!;
}

const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, value) => sum + value ** 2, 0) / values.length);
const dip: Course = (frame) => (frame > 100 && frame < 200 ? -30 : 0) - 0.01 * frame;

describe("inSteadyLight", () => {
  it("takes off the needle's turn what passes for a slope of light that is steady or jumps once", () => {
    const { errors } = clip({ turn: dip, light: (frame) => (frame < 150 ? 1 : 4), noise: noise(1, 0.1) });
    // A median of 15 knows the slope to 1.25 / sqrt(15) = 0.32 of one frame's noise, which the free fit errs by in whole.
    expect(rms(errors)).toBeLessThan(0.45 * PER_SLOPE * 0.1);
  });

  it("leaves light alone that moves from frame to frame, as a reflection does when the hand shakes", () => {
    const [jitter, moving] = [noise(2, 0.1), noise(3, 0.1)];
    const { errors } = clip({ turn: (frame) => dip(frame) + jitter(frame), light: moving, noise: () => 0 });
    // Were it steady, 2 x 0.1 would be taken off. The share is known to sqrt(2 x 0.1^2 / 0.2^2 / 300) = 0.04: beyond three
    // times that, once in 700 draws.
    expect(rms(errors)).toBeLessThan(0.13 * PER_SLOPE * 0.1);
  });

  it("leaves a frame its own light that differs much from that about it", () => {
    const light: Course = (frame) => (frame === 120 ? 5 : 0);
    const { errors } = clip({ turn: dip, light, noise: noise(4, 0.1) });
    // All of the light's 5 would turn it by 10; its own noise by 0.2, three times as much once in 400 draws.
    expect(Math.abs(errors[120]!)).toBeLessThan(0.6);
  });

  it("leaves a clip too short to tell", () => {
    const { free, errors } = clip({ turn: () => 0, light: () => 0, noise: noise(5, 0.1) }, 50);
    expect(errors).toEqual(free.map(({ step }) => step));
  });
});

const BANDS = 5;
const STEPS = 81;
const grid = polarGrid({ x: 0, y: 0 }, 100, 300, 1, BANDS);

/** A dark needle with a shadow at a column, in light that slopes by so much a step. */
function patchAt(column: number, slope: number): NeedlePatch {
  const values = Float32Array.from({ length: BANDS * STEPS }, (_, at) => {
    const aside = (at % STEPS) - column;
    return 200 - 90 * Math.exp(-((aside / 4) ** 2)) - 15 * Math.exp(-(((aside - 5) / 4) ** 2)) + slope * aside;
  });
  return { firstStep: 0, stepCount: STEPS, bandCount: BANDS, values, bandOffsets: new Float64Array(BANDS) };
}

describe("fitNeedle", () => {
  const profile = needleProfile(patchAt(40, 0), grid, 40, 26);
  const options = { bands: evenBands(BANDS), bandRadiusPx: grid.bandRadiusPx, lateral: 0 };
  const known = (slope: number) => ({ ...options, lightSlopes: new Float64Array(BANDS).fill(slope) });

  it("reads a needle in light of a known slope as one in even light", () => {
    const even = fitNeedle(patchAt(43.3, 0), profile, 42, known(0))!;
    const sloping = fitNeedle(patchAt(43.3, 0.8), profile, 42, known(0.8))!;
    expect(even.step).toBeCloseTo(43.3, 1);
    expect(sloping.step).toBeCloseTo(even.step, 4);
    expect(sloping.gain).toBeCloseTo(even.gain, 4);
  });

  it("tells the slope of the light where it is free", () => {
    const { lightSlopes } = fitNeedle(patchAt(43.3, 0.8), profile, 42, options)!;
    for (const slope of lightSlopes) expect(slope).toBeCloseTo(0.8, 1);
  });
});
