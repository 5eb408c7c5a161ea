import { expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { angleUncertainties } from "../../../src/importers/video/reading-uncertainty.js";
import { unmoved } from "../../../src/importers/video/warp.js";

const registration = {
  ...{ warp: unmoved(0, 0), gain: 1, offset: 0, blur: 0, residual: 1, match: 1, agreeing: 1 },
  covariance: new Float64Array(121),
};

function fits(blurs: readonly number[], gainAt: (index: number) => number = () => 1): NeedleFit[] {
  const random = randomSource(5);
  return blurs.map((blur, index) => ({
    ...{ step: 0.1 * random.normal(), formalU: 0.1, gain: gainAt(index), blur, explained: 0.99, residual: 1 },
    ...{ sampleCount: 400, turnPerContrast: 4 },
    ...{ lateral: 0, freeLateral: 0, bandShifts: new Float64Array(10), bandVariances: new Float64Array(10).fill(1) },
    lightSlopes: new Float64Array(10),
  }));
}

const timesOf = (frames: readonly unknown[]) => frames.map((_, at) => at / 20);

it("doubts a needle whose contrast changes otherwise than the print's by up to the turn that would change as much", () => {
  const blurs = Array(120).fill(0.3);
  // Light on all that grows by a fifth from 2 to 3.5 s; on the needle it grows by a tenth more, and for one frame by a third.
  const isLit = (at: number) => at >= 40 && at < 70;
  const registrations = blurs.map((_, at) => ({ ...registration, gain: isLit(at) ? 1.2 : 1 }));
  const doubts = (needleMore: number, once: number) => {
    const gainAt = (at: number) => (isLit(at) ? 1.2 * needleMore : 1) * (at === 100 ? once : 1);
    return angleUncertainties(timesOf(blurs), fits(blurs, gainAt), registrations, 0.002, 200, 300);
  };
  const even = doubts(1, 1);
  const added = [...doubts(1.1, 4 / 3)].map((u, at) => Math.sqrt(Math.max(0, u * u - even[at]! * even[at]!)));
  // Up to all of ln 1.1 of the contrast, 4 steps of 0.002 radians; JCGM 100:2008, 4.3.7.
  const inside = added.slice(46, 64);
  for (const rad of inside) expect(rad).toBeCloseTo((Math.log(1.1) * 4 * 0.002) / Math.sqrt(3), 9);
  expect(added.filter((_, at) => at < 34 || at > 76).every((rad) => rad < 1e-9)).toBe(true);
});

it("doubts a needle that is blurred otherwise than usual by 0.02 px for each square pixel, sharper or wider", () => {
  const doubts = (blurs: readonly number[]) =>
    angleUncertainties(timesOf(blurs), fits(blurs), Array(blurs.length).fill(registration), 0.002, 200, 300);
  const even = doubts(Array(60).fill(0.3));
  const uneven = doubts(Array.from({ length: 60 }, (_, at) => (at === 10 ? 2.3 : at === 20 ? -0.2 : 0.3)));
  const addedPx = [...uneven].map((u, at) => 200 * Math.sqrt(Math.max(0, u * u - even[at]! * even[at]!)));
  expect(addedPx[10]).toBeCloseTo(0.04, 9);
  expect(addedPx[20]).toBeCloseTo(0.01, 9);
  expect(addedPx.filter((px) => px > 1e-9)).toHaveLength(2);
});
