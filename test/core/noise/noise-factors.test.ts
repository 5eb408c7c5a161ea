import { describe, expect, it } from "vitest";
import { noiseFactors } from "../../../src/core/noise/noise-factors.js";
import { smoothResiduals } from "../../../src/core/noise/smoothed-residuals.js";
import { whitenedProducts } from "../../../src/core/noise/whitening.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, denseLevelCovariance, inner, invert, times } from "../../oracles/dense-noise.js";
import { noises, readingCounts, residualsV, timesS } from "./readings.js";

/** AR(1) noise at 10 Hz, `burst` times as large from 20 to 35 s, on a falling level with dips of 0.3 V. */
function drawn(seed: number, phi: number, burst: number, durationS = 60) {
  const random = randomGenerator(seed);
  const times = Float64Array.from({ length: durationS * 10 }, (_, i) => i / 10);
  let ar = random.normal();
  const values = times.map((t) => {
    ar = phi * ar + Math.sqrt(1 - phi * phi) * random.normal();
    const size = t >= 20 && t < 35 ? burst : 1;
    return 24.5 - 0.002 * t - (t % 11 < 5 ? 0.3 : 0) + 0.02 * size * ar;
  });
  return { times, values, counts: new Float64Array(times.length).fill(1) };
}

describe("noiseFactors()", () => {
  it("gives a stretch of equal readings, which has no scatter to go by, the middle size", () => {
    const { times, values, counts } = drawn(1, 0, 6);
    const cut = values.map((v, i) => (times[i]! >= 44 ? 24.3 : v));
    const { factors } = noiseFactors(times, cut, counts)!;
    expect(factors.every((factor) => factor > 0.1 && factor < 20)).toBe(true);
    expect(factors.at(-1)).toBe(1);
  });

  it.each([0, 0.8])("finds steady noise of AR(1) %d unsteady in at most 6 of 1,000 recordings, dips or not", (phi) => {
    let found = 0;
    for (let seed = 1; seed <= 1000; seed++) {
      const { times, values, counts } = drawn(seed, phi, 1);
      if (noiseFactors(times, values, counts) !== null) found += 1;
    }
    // Nominal 1 in 1,000; more than 6 by chance: below 1e-4.
    expect(found).toBeLessThanOrEqual(6);
  });

  it.each([0, 0.8])("finds a burst of four times the noise (AR(1) %d), its size and its place", (phi) => {
    for (let seed = 1; seed <= 20; seed++) {
      const { times, values, counts } = drawn(seed, phi, 4);
      const found = noiseFactors(times, values, counts)!;
      const inside = found.factors.slice(230, 320).reduce((sum, factor) => sum + factor, 0) / 90;
      const outside = found.factors.slice(400).reduce((sum, factor) => sum + factor, 0) / 200;
      // Four windows apart, 18 % each, and 8 % drawn towards the middle: four standard deviations are a factor of 1.6.
      expect(inside, `seed ${seed}`).toBeGreaterThan(4 / 1.6);
      expect(inside, `seed ${seed}`).toBeLessThan(4 * 1.6);
      expect(outside, `seed ${seed}`).toBeLessThan(1.3);
      expect(found.ratio).toBeGreaterThan(2);
    }
  });

  it("weighs each second difference by the variance of its three readings, means of unlike counts", () => {
    const n = 400;
    const times = Float64Array.from({ length: n }, (_, i) => i / 10);
    // Second differences of the size that the counts make (1/a + 4/b + 1/c), four times it from 20 s on.
    const of = (counts: Float64Array) => {
      const values = new Float64Array(n);
      for (let i = 1; i < n - 1; i++) {
        const variance = 1 / counts[i - 1]! + 4 / counts[i]! + 1 / counts[i + 1]!;
        const size = Math.sqrt(variance) * (i < 200 ? 0.01 : 0.04) * (i % 4 < 2 ? 1 : -1);
        values[i + 1] = 2 * values[i]! - values[i - 1]! + size;
      }
      return noiseFactors(times, values, counts)!;
    };
    const single = of(new Float64Array(n).fill(1));
    expect(single.ratio).toBeGreaterThan(2);
    const unlike = of(Float64Array.from({ length: n }, (_, i) => [1, 50, 4, 9, 100][i % 5]!));
    unlike.factors.forEach((factor, i) => {
      expect(factor, `${i}`).toBeCloseTo(single.factors[i]!, 6);
    });
  });

  it("does not hang on the unit of the voltage", () => {
    const { times, values, counts } = drawn(3, 0.8, 4);
    const volts = noiseFactors(times, values, counts)!;
    const milli = noiseFactors(
      times,
      values.map((v) => 1024 * v),
      counts,
    )!;
    expect(milli.ratio).toBeCloseTo(volts.ratio, 9);
  });

  it("says nothing of a recording too short to compare", () => {
    const { times, values, counts } = drawn(4, 0, 4);
    expect(noiseFactors(times.slice(0, 120), values.slice(0, 120), counts.slice(0, 120))).toBeNull();
  });
});

describe("noise that swells and fades, against dense matrices", () => {
  const noise = noises[4]![1];
  const factors = timesS.map((t) => 1 + 0.8 * Math.sin(t / 3) ** 2);
  const sampled = { timesS, readingCounts, noiseFactors: factors };
  const still = { ...noise, colouredV: 0, whiteV: 0 };
  const n = timesS.length;
  // Level covariance as it is; white and coloured parts grow with both readings' sizes.
  const whole = denseCovariance(timesS, readingCounts, noise);
  const level = denseCovariance(timesS, readingCounts, still);
  const swelling = whole.map((row, i) =>
    row.map((value, j) => level[i]![j]! + (value - level[i]![j]!) * factors[i]! * factors[j]!),
  );
  const { inverse, logDeterminant } = invert(swelling);

  it("whitenedProducts() gives the dense inner product and determinant", () => {
    const found = whitenedProducts(sampled, residualsV, 1, noise);
    const expected = inner(residualsV, times(inverse, residualsV));
    expect(Math.abs(found.gram[0]! / expected - 1)).toBeLessThan(1e-5);
    expect(Math.abs(found.logDeterminant - logDeterminant)).toBeLessThan(1e-5);
  });

  it("smoothResiduals() gives the dense weights and level", () => {
    const { weighted, levelV } = smoothResiduals(sampled, residualsV, noise);
    const expected = times(inverse, residualsV);
    const levels = times(denseLevelCovariance(timesS, noise), expected);
    const largest = Math.max(...expected.map(Math.abs));
    const highest = Math.max(...levels.map(Math.abs));
    for (let i = 0; i < n; i++) {
      expect(Math.abs(weighted[i]! - expected[i]!), `reading ${i}`).toBeLessThan(1e-5 * largest);
      expect(Math.abs(levelV[i]! - levels[i]!), `reading ${i}`).toBeLessThan(1e-5 * highest);
    }
  });
});
