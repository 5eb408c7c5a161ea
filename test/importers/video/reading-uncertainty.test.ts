import { expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";
import { angleUncertainties } from "../../../src/importers/video/reading-uncertainty.js";
import { unmoved } from "../../../src/importers/video/warp.js";

const registration = {
  ...{ warp: unmoved(0, 0), gain: 1, offset: 0, blur: 0, residual: 1, match: 1, agreeing: 1 },
  covariance: new Float64Array(121),
};

function fits(blurs: readonly number[]): NeedleFit[] {
  const random = randomSource(5);
  return blurs.map((blur) => ({
    ...{ step: 0.1 * random.normal(), formalU: 0.1, gain: 1, blur, explained: 0.99, residual: 1, sampleCount: 400 },
    ...{ lateral: 0, freeLateral: 0, bandShifts: new Float64Array(10), bandVariances: new Float64Array(10).fill(1) },
  }));
}

it("doubts a needle that is blurred otherwise than usual by 0.02 px for each square pixel, sharper or wider", () => {
  const doubts = (blurs: readonly number[]) =>
    angleUncertainties(fits(blurs), Array(blurs.length).fill(registration), 0.002, 200, 300);
  const even = doubts(Array(60).fill(0.3));
  const uneven = doubts(Array.from({ length: 60 }, (_, at) => (at === 10 ? 2.3 : at === 20 ? -0.2 : 0.3)));
  const addedPx = [...uneven].map((u, at) => 200 * Math.sqrt(Math.max(0, u * u - even[at]! * even[at]!)));
  expect(addedPx[10]).toBeCloseTo(0.04, 9);
  expect(addedPx[20]).toBeCloseTo(0.01, 9);
  expect(addedPx.filter((px) => px > 1e-9)).toHaveLength(2);
});
