import { describe, expect, it } from "vitest";
import { averagedScore, scoreDistribution } from "../../../src/core/detection/averaged-score.js";
import { normalQuantile, normalSurvival } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const density = (x: number) => Math.exp(-(x * x) / 2) / Math.sqrt(2 * Math.PI);

/** Chance that the averaged score of two shapes reaches a score, their scores normal about these means: by thin strips. */
function chanceOf(weights: Float64Array, correlation: number, score: number, means: readonly [number, number]) {
  const step = 0.02;
  const across = Math.sqrt(1 - correlation ** 2);
  let sum = 0;
  for (let a = -8 + step / 2; a < 8; a += step) {
    // From which second score on it is reached: it rises with either.
    let [low, high] = [-40, 40];
    for (let k = 0; k < 30; k++) {
      const b = (low + high) / 2;
      const z = Float64Array.of(means[0] + a, means[1] + correlation * a + across * b);
      if (averagedScore(z, weights) < score) low = b;
      else high = b;
    }
    sum += density(a) * step * normalSurvival(low);
  }
  return sum;
}

describe("scoreDistribution() of two shapes", () => {
  it.each([
    [0.5, 0],
    [0.2, 0],
    [0.8, 0.5],
    [0.3, -0.4],
  ])("is what the plane of both scores gives: weight %d, correlation %d", (weight, correlation) => {
    const weights = Float64Array.of(weight, 1 - weight);
    const bank = { weights, correlations: Float64Array.of(1, correlation, correlation, 1) };
    const many = Array.from({ length: 6 }, (_, k) => scoreDistribution(bank, 0, randomGenerator(k + 1)));
    for (const score of [1.5, 2.5, 3.5, 4.5]) {
      const found = many.reduce((sum, one) => sum + one.pValue(score), 0) / many.length;
      // Six times 4,000 tilted draws of about 3 % each.
      expect(found / chanceOf(weights, correlation, score, [0, 0]), `score ${score}`).toBeGreaterThan(0.93);
      expect(found / chanceOf(weights, correlation, score, [0, 0]), `score ${score}`).toBeLessThan(1.07);
    }
    // A response of either shape, as likely as its weight.
    const size = many.reduce((sum, one) => sum + one.detectableSize(2.5, 0.9), 0) / many.length;
    const power =
      weight * chanceOf(weights, correlation, 2.5, [size, correlation * size]) +
      (1 - weight) * chanceOf(weights, correlation, 2.5, [correlation * size, size]);
    // 600 smoothed draws give the power to about 1 %, six times as many to 0.5 %.
    expect(Math.abs(power - 0.9)).toBeLessThan(0.02);
  });
});

describe("scoreDistribution() of noise whose size is open", () => {
  it.each([0.3, 1, 3])(
    "takes 32 even steps of the scale's distribution, %d wide, none beyond e^1.5 either way",
    (scaleSd) => {
      const scales = Array.from({ length: 32 }, (_, k) => {
        const z = normalQuantile((k + 0.5) / 32);
        return Math.exp(Math.max(-1.5, Math.min(1.5, scaleSd * z)));
      });
      const single = { weights: Float64Array.of(1), correlations: Float64Array.of(1) };
      const many = Array.from({ length: 6 }, (_, k) => scoreDistribution(single, scaleSd, randomGenerator(k + 1)));
      for (const score of [1, 3, 6]) {
        const expected = scales.reduce((sum, scale) => sum + normalSurvival(score / scale), 0) / 32;
        const found = many.reduce((sum, one) => sum + one.pValue(score), 0) / many.length;
        // Six times 4,000 draws, of which one step in 32 may make most of a far tail: 3 % each, four times as much allowed.
        expect(Math.abs(found / expected - 1), `score ${score}`).toBeLessThan(0.1);
      }
      const powerAt = (size: number) =>
        scales.reduce((sum, scale) => sum + normalSurvival((3 - scale * size) / scale), 0) / 32;
      // 600 draws are 18 rounds of the 32 steps and three quarters of one more: a share of 0.04 may lie elsewhere.
      expect(Math.abs(powerAt(many[0]!.detectableSize(3, 0.8)) - 0.8)).toBeLessThan(0.02);
    },
  );
});
