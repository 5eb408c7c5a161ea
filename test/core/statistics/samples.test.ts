import { describe, expect, it } from "vitest";
import { lagOneAutocorrelation } from "../../../src/core/statistics/autocorrelation.js";
import { logBeta, logGamma } from "../../../src/core/statistics/gamma-function.js";
import { incompleteBeta } from "../../../src/core/statistics/incomplete-beta.js";
import { incompleteGamma } from "../../../src/core/statistics/incomplete-gamma.js";
import { meanAndDeviation } from "../../../src/core/statistics/mean-and-deviation.js";
import { median, quantile, quantileOfSorted } from "../../../src/core/statistics/quantile.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { readingNoise } from "../../../src/core/statistics/reading-noise.js";
import { robustDeviation, robustNoise } from "../../../src/core/statistics/robust-scale.js";

describe("quantiles", () => {
  it("are straight between order statistics: Hyndman and Fan's seventh", () => {
    const sorted = Float64Array.of(1, 2, 4, 8);
    expect([0, 1 / 3, 0.5, 0.75, 1].map((p) => quantileOfSorted(sorted, p))).toEqual(
      [1, 2, 3, 5, 8].map((v) => expect.closeTo(v, 12)),
    );
    const mixed = Float64Array.of(8, 1, 4, 2);
    expect(quantile(mixed, 0.5)).toBe(3);
    expect(Array.from(mixed)).toEqual([8, 1, 4, 2]);
    expect(median(Float64Array.of(5, 1, 9))).toBe(5);
    expect(quantileOfSorted(Float64Array.of(7), 0.3)).toBe(7);
    for (const p of [-0.1, 1.1, Number.NaN]) expect(() => quantileOfSorted(sorted, p)).toThrow(RangeError);
    expect(() => median(new Float64Array(0))).toThrow(RangeError);
  });
});

describe("meanAndDeviation() and lagOneAutocorrelation()", () => {
  it("are the textbook's: n - 1, and products over squares", () => {
    const { mean, deviation } = meanAndDeviation(Float64Array.of(2, 4, 4, 4, 5, 5, 7, 9));
    expect(mean).toBe(5);
    expect(deviation).toBeCloseTo(Math.sqrt(32 / 7), 12);
    expect(meanAndDeviation(Float64Array.of(3)).deviation).toBeNaN();
    // Neighbouring whole numbers of a size whose halves no double holds: their standard deviation is the root of a half.
    const large = meanAndDeviation(Float64Array.of(2 ** 52, 2 ** 52 + 1));
    expect(large.deviation).toBeCloseTo(Math.SQRT1_2, 12);
    expect(() => meanAndDeviation(new Float64Array(0))).toThrow(RangeError);
    // Deviations -2, 0, 1, 1: products 0 + 0 + 1 over 6.
    expect(lagOneAutocorrelation(Float64Array.of(1, 3, 4, 4))).toBeCloseTo(1 / 6, 12);
    expect(lagOneAutocorrelation(Float64Array.of(2, 2, 2))).toBe(0);
  });

  it("lose no digits to a large offset", () => {
    const values = Float64Array.from({ length: 1000 }, (_, i) => 1e9 + (i % 2));
    expect(meanAndDeviation(values).deviation).toBeCloseTo(Math.sqrt(250 / 999), 9);
    expect(meanAndDeviation(values).mean).toBe(1e9 + 0.5);
  });
});

describe("robust scales by hand", () => {
  it("robustDeviation() is 1.4826 times the median distance from the median", () => {
    expect(robustDeviation(Float64Array.of(1, 2, 3, 4, 100))).toBeCloseTo(1.4826022, 6);
    // 1 over the 75 % quantile of the normal distribution, 0.6744897502.
    expect(robustDeviation(Float64Array.of(-1, 0, 1))).toBeCloseTo(1 / 0.6744897502, 8);
  });

  it("robustNoise() is that of neighbours' differences over root two", () => {
    // Differences 1, 2, 3, 4, 5: median 3, distances 2, 1, 0, 1, 2.
    expect(robustNoise(Float64Array.of(0, 1, 3, 6, 10, 15))).toBeCloseTo(1.4826022 / Math.SQRT2, 6);
    expect(robustNoise(Float64Array.of(5))).toBe(0);
    expect(robustNoise(Float64Array.of(5, 7))).toBe(0);
  });

  it("readingNoise() of an alternating series is told by near and far second differences", () => {
    const timesS = Float64Array.from({ length: 100 }, (_, i) => i / 2);
    // Fewer than three second differences at ten readings' distance: those of neighbours alone.
    const short = Float64Array.of(0, 1, 0, 3, 0, 5, 0, 2);
    const near = [-2, 4, -6, 8, -10, 7];
    const sorted = [...near].sort((a, b) => a - b);
    const centre = (sorted[2]! + sorted[3]!) / 2;
    const away = near.map((v) => Math.abs(v - centre)).sort((a, b) => a - b);
    const deviation = (1.4826022185 * (away[2]! + away[3]!)) / 2;
    expect(readingNoise(timesS.slice(0, 8), short)).toEqual({
      sigma: expect.closeTo(deviation / Math.sqrt(6), 8),
      correlationS: 0,
    });
    expect(
      readingNoise(
        timesS,
        timesS.map(() => 3),
      ),
    ).toEqual({ sigma: 0, correlationS: 0 });
  });
});

describe("readingNoise() by its formula", () => {
  const middle = (values: readonly number[]) => {
    const sorted = [...values].sort((a, b) => a - b);
    return (sorted[Math.floor((sorted.length - 1) / 2)]! + sorted[Math.ceil((sorted.length - 1) / 2)]!) / 2;
  };
  /** Square of 1.4826 median deviations of the second differences at a distance, every so many of them. */
  function variance(values: Float64Array, distance: number, every: number): number {
    const differences = Array.from(values.slice(2 * distance), (value, k) => {
      return value - 2 * values[k + distance]! + values[k]!;
    }).filter((_, k) => k % every === 0);
    const centre = middle(differences);
    return (1.4826022185 * middle(differences.map((value) => Math.abs(value - centre)))) ** 2;
  }

  it.each([
    [60, 3, 1],
    [199, 9, 1],
    [300, 10, 1],
    [30_100, 10, 1],
    [40_100, 10, 2],
  ])("of %d correlated readings looks %d apart, at every %d of the differences", (count, far, every) => {
    const random = randomGenerator(count);
    let last = 0;
    const values = Float64Array.from({ length: count }, () => {
      last = 0.6 * last + random.normal();
      return last;
    });
    const timesS = Float64Array.from({ length: count }, (_, i) => 5 + i * 0.3);
    const found = readingNoise(timesS, values);
    const [near, wide] = [variance(values, 1, every), variance(values, far, every)];
    expect(found.sigma).toBeCloseTo(Math.sqrt(Math.max(near, wide) / 6), 7);
    // Of neighbours' correlation p: (1 - p)(3 - p) / 3 = near / wide.
    const p = 2 - Math.sqrt(1 + (3 * near) / wide);
    expect((1 - p) * (3 - p)).toBeCloseTo((3 * near) / wide, 9);
    expect(found.correlationS / (-0.3 / Math.log(p))).toBeCloseTo(1, 6);
  });
});

describe("gamma and beta functions", () => {
  // Abramowitz & Stegun: gamma(1/2) = sqrt(pi), 6.1.8; factorials; recurrence 6.1.15; reflection 6.1.17.
  it("logGamma() of halves and whole numbers", () => {
    expect(logGamma(0.5)).toBeCloseTo(0.5 * Math.log(Math.PI), 13);
    expect(logGamma(1)).toBeCloseTo(0, 13);
    expect(logGamma(2)).toBeCloseTo(0, 13);
    expect(logGamma(7)).toBeCloseTo(Math.log(720), 12);
    expect(logGamma(171) / 706.5730622457874).toBeCloseTo(1, 12);
    for (const x of [0.1, 0.9, 1.5, 3.3, 12.7, 150.2])
      expect(logGamma(x + 1)).toBeCloseTo(logGamma(x) + Math.log(x), 10);
  });

  it("logBeta() is that of the gammas", () => {
    for (const [a, b] of [
      [0.5, 0.5],
      [2, 3],
      [40, 0.5],
      [1000, 2000],
    ] as const)
      expect(logBeta(a, b)).toBeCloseTo(logGamma(a) + logGamma(b) - logGamma(a + b), 8);
    expect(logBeta(2, 3)).toBeCloseTo(Math.log(1 / 12), 12);
  });

  it("incompleteGamma() of whole orders is a Poisson sum, and lower and upper make one", () => {
    for (const [n, x] of [
      [1, 0.3],
      [3, 2],
      [5, 9],
      [12, 4],
      [30, 33],
    ] as const) {
      let [term, upper] = [Math.exp(-x), 0];
      for (let k = 0; k < n; k++) {
        upper += term;
        term *= x / (k + 1);
      }
      const found = incompleteGamma(n, x);
      expect(found.upper / upper).toBeCloseTo(1, 11);
      expect(found.lower + found.upper).toBeCloseTo(1, 13);
    }
  });

  it("incompleteGamma() and incompleteBeta() run from nothing to the whole", () => {
    for (const a of [0.3, 1, 40]) {
      expect(incompleteGamma(a, 0)).toEqual({ lower: 0, upper: 1 });
      expect(incompleteGamma(a, Number.POSITIVE_INFINITY)).toEqual({ lower: 1, upper: 0 });
      for (const b of [0.5, 2, 300]) {
        expect(incompleteBeta(a, b, 0, 1)).toBe(0);
        expect(incompleteBeta(a, b, 1, 0)).toBe(1);
      }
    }
  });

  it("incompleteBeta() of whole orders is a binomial tail", () => {
    const choose = (n: number, k: number) =>
      Array.from({ length: k }, (_, i) => (n - i) / (i + 1)).reduce((a, b) => a * b, 1);
    for (const [a, b, x] of [
      [2, 3, 0.3],
      [5, 2, 0.8],
      [4, 9, 0.1],
      [1, 1, 0.4],
    ] as const) {
      const n = a + b - 1;
      let sum = 0;
      for (let k = a; k <= n; k++) sum += choose(n, k) * x ** k * (1 - x) ** (n - k);
      expect(incompleteBeta(a, b, x, 1 - x) / sum).toBeCloseTo(1, 11);
    }
  });
});
