import { describe, expect, it } from "vitest";
import { smoothResiduals } from "../../../src/core/noise/smoothed-residuals.js";
import { denseCovariance, denseLevelCovariance, invert, times } from "../../oracles/dense-noise.js";
import { noises, readingCounts, residualsV, timesS } from "./readings.js";

describe("smoothResiduals()", () => {
  it.each(noises)("%s: weights the residuals by the dense inverse covariance", (_name, noise) => {
    const { inverse } = invert(denseCovariance(timesS, readingCounts, noise));
    const expected = times(inverse, residualsV);
    const { weighted } = smoothResiduals({ timesS, readingCounts }, residualsV, noise);
    const largest = Math.max(...expected.map(Math.abs));
    expected.forEach((value, i) => {
      expect(Math.abs(weighted[i]! - value), `reading ${i}`).toBeLessThan(2e-6 * largest);
    });
  });

  it.each(noises.slice(2))("%s: the level is the dense best estimate, level covariance x V^-1 r", (_name, noise) => {
    const { inverse } = invert(denseCovariance(timesS, readingCounts, noise));
    const expected = times(denseLevelCovariance(timesS, noise), times(inverse, residualsV));
    const { levelV } = smoothResiduals({ timesS, readingCounts }, residualsV, noise);
    const largest = Math.max(...expected.map(Math.abs));
    expected.forEach((value, i) => {
      expect(Math.abs(levelV[i]! - value), `reading ${i}`).toBeLessThan(1e-5 * largest);
    });
  });
});
