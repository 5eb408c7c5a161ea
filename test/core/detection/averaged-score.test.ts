import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { averagedScore, scoreDistribution, withoutTwins } from "../../../src/core/detection/averaged-score.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const single = { weights: Float64Array.of(1), correlations: Float64Array.of(1) };

/** Scores that fall off like an autoregression along the bank. */
function chain(weights: readonly number[], neighbour: number) {
  const n = weights.length;
  return {
    weights: Float64Array.from(weights),
    correlations: Float64Array.from({ length: n * n }, (_, k) => neighbour ** Math.abs((k % n) - Math.floor(k / n))),
  };
}

/** One draw of a chain's scores, by the recursion that defines it. */
function drawChain(n: number, neighbour: number, normal: () => number): Float64Array {
  const z = new Float64Array(n);
  z[0] = normal();
  for (let k = 1; k < n; k++) z[k] = neighbour * z[k - 1]! + Math.sqrt(1 - neighbour ** 2) * normal();
  return z;
}

describe("averagedScore()", () => {
  it("gives a single shape's own score back, and the common score of shapes that agree", () => {
    expect(averagedScore(Float64Array.of(2.4), single.weights)).toBeCloseTo(2.4, 12);
    expect(averagedScore(Float64Array.of(2.4, 2.4, 2.4), Float64Array.of(0.2, 0.3, 0.5))).toBeCloseTo(2.4, 12);
  });

  it("lies between the weighted mean and the greatest score, and does not overflow", () => {
    const scores = Float64Array.of(-3, 1, 300);
    const averaged = averagedScore(scores, Float64Array.of(0.5, 0.4, 0.1));
    expect(averaged).toBeLessThan(300);
    expect(averaged).toBeGreaterThan(299);
  });
});

describe("scoreDistribution() of one shape", () => {
  const many = Array.from({ length: 8 }, (_, k) => scoreDistribution(single, 0, randomGenerator(k + 1)));
  const distribution = many[0]!;

  // Python 3.11: from scipy.stats import norm; [norm.sf(z) for z in (0, 1, 2, 3, 4.5, 6, 9)]  (scipy 1.10.1)
  it.each([
    [0, 0.5],
    [1, 0.15865525393145707],
    [2, 0.0227501319481792],
    [3, 0.0013498980316300933],
    [4.5, 3.3976731247300535e-6],
    [6, 9.865876450376981e-10],
    [9, 1.1285884059538408e-19],
  ])("pValue(%d) is the upper normal tail", (score, expected) => {
    // The mean of eight distributions of 4,000 tilted draws, each right within 3 % as stated, at low scores within 5 %.
    const found = many.reduce((sum, one) => sum + one.pValue(score), 0) / many.length;
    expect(Math.abs(found / expected - 1)).toBeLessThan(0.07);
  });

  it("criticalScore() is the normal quantile, and pValue() undoes it", () => {
    // ISO 11843-1:1997 in the normal case: the critical value is z(1 - alpha) standard deviations (from memory).
    expect(Math.abs(distribution.criticalScore(0.01) - 2.3263)).toBeLessThan(0.05);
    expect(Math.abs(distribution.criticalScore(0.001) - 3.0902)).toBeLessThan(0.05);
    for (const rate of [0.05, 0.01, 1e-3, 1e-5]) {
      const back = distribution.pValue(distribution.criticalScore(rate));
      expect(Math.abs(back / rate - 1), `rate ${rate}`).toBeLessThan(0.05);
    }
  });

  it("pValue() never rises with the score", () => {
    let last = 1;
    for (let score = -3; score < 20; score += 0.05) {
      const p = distribution.pValue(score);
      // Each tilt has its own draws: at a seam the two agree to their own accuracy.
      expect(p, `score ${score}`).toBeLessThanOrEqual(last * 1.1);
      last = p;
    }
  });
});

describe("scoreDistribution() of a bank", () => {
  const bank = chain([0.3, 0.25, 0.2, 0.15, 0.1], 0.6);

  it.each([
    ["the noise's size known", 0],
    ["the noise's size open", 0.25],
  ])("%s: pValue() is the share of 200,000 plain draws at or above the score", (_name, scaleSd) => {
    const distribution = scoreDistribution(bank, scaleSd, randomGenerator(7));
    const random = randomSource(11);
    const count = 200_000;
    const drawn = Float64Array.from({ length: count }, () => {
      const z = drawChain(5, 0.6, () => random.normal());
      const scale = scaleSd > 0 ? Math.exp(scaleSd * random.normal()) : 1;
      return averagedScore(
        z.map((value) => scale * value),
        bank.weights,
      );
    });
    for (const score of [1.2, 2, 2.6, 3.2]) {
      const expected = drawn.reduce((sum, value) => sum + (value >= score ? 1 : 0), 0) / count;
      const brute = Math.sqrt((expected * (1 - expected)) / count);
      // Four standard deviations of the plain draws and of the 4,000 tilted ones (3 % stated; more where scales differ).
      expect(Math.abs(distribution.pValue(score) - expected), `score ${score}`).toBeLessThan(
        4 * Math.hypot(brute, 0.04 * expected),
      );
    }
  });

  it("detectableSize() is found with the stated power, its shape drawn from the weights", () => {
    const distribution = scoreDistribution(bank, 0, randomGenerator(7));
    const critical = distribution.criticalScore(0.01);
    const size = distribution.detectableSize(critical, 0.95);
    const random = randomSource(13);
    const count = 40_000;
    let found = 0;
    for (let k = 0; k < count; k++) {
      const z = drawChain(5, 0.6, () => random.normal());
      let left = random.uniform();
      let j = 0;
      while (j < 4 && left >= bank.weights[j]!) left -= bank.weights[j++]!;
      if (
        averagedScore(
          z.map((value, i) => value + size * 0.6 ** Math.abs(i - j)),
          bank.weights,
        ) >= critical
      )
        found += 1;
    }
    // 600 smoothed draws give the power to about 1 %; 40,000 plain ones to 0.1 %.
    expect(found / count).toBeGreaterThan(0.95 - 0.025);
    expect(found / count).toBeLessThan(0.95 + 0.025);
  });
});

describe("detectableSize()", () => {
  it("of one shape is z(1 - alpha) + z(power): ISO 11843-1:1997, minimum detectable value in the normal case", () => {
    const distribution = scoreDistribution(single, 0, randomGenerator(1));
    // z(0.99) + z(0.95) = 2.3263 + 1.6449, any table of the normal distribution, to half of the last digit.
    expect(Math.abs(distribution.detectableSize(2.3263, 0.95) - 3.9712)).toBeLessThan(5e-5);
    // At the critical value itself the power is one half.
    expect(Math.abs(distribution.detectableSize(2.3263, 0.5) - 2.3263)).toBeLessThan(1e-6);
  });

  it("grows with the power and with what is open about the noise", () => {
    const known = scoreDistribution(single, 0, randomGenerator(1));
    const open = scoreDistribution(single, 0.3, randomGenerator(1));
    expect(known.detectableSize(2.3, 0.9)).toBeLessThan(known.detectableSize(2.3, 0.95));
    expect(open.criticalScore(0.01)).toBeGreaterThan(known.criticalScore(0.01) + 0.1);
  });
});

describe("the draws", () => {
  /** A generator that counts what is asked of it. */
  const counted = () => {
    const plain = randomGenerator(3);
    const asked = { uniform: 0, normal: 0 };
    const uniform = () => {
      asked.uniform += 1;
      return plain.uniform();
    };
    const normal = () => {
      asked.normal += 1;
      return plain.normal();
    };
    return { random: { ...plain, uniform, normal }, asked };
  };

  it("are 600 for the power and 4,000 for the tail, once for all ordinary scores and once for each whole far one", () => {
    const { random, asked } = counted();
    // Two scores of full rank: two normal numbers and one pick a draw.
    const distribution = scoreDistribution(chain([0.5, 0.5], 0.4), 0, random);
    const drawn = () => asked.uniform;
    expect(drawn()).toBe(600);
    for (const score of [-1, 2, 3.99]) distribution.pValue(score);
    expect(drawn()).toBe(4600);
    distribution.pValue(4);
    expect(drawn()).toBe(8600);
    distribution.pValue(4.4);
    expect(drawn()).toBe(8600);
    distribution.pValue(4.6);
    expect(drawn()).toBe(12_600);
    distribution.pValue(40);
    distribution.pValue(60);
    expect(drawn()).toBe(16_600);
    distribution.detectableSize(2, 0.9);
    expect(drawn()).toBe(16_600);
    expect(asked.normal).toBe(2 * 16_600);
  });
});

describe("withoutTwins()", () => {
  it("joins shapes that are all but the same into the weightiest, and keeps the sum of the weights", () => {
    const bank = {
      weights: Float64Array.of(0.2, 0.5, 0.3),
      correlations: Float64Array.of(1, 0.99, 0.4, 0.99, 1, 0.42, 0.4, 0.42, 1),
    };
    const joined = withoutTwins(bank);
    expect(Array.from(joined.members)).toEqual([1, 2]);
    expect(Array.from(joined.bank.weights)).toEqual([0.7, 0.3]);
    expect(Array.from(joined.bank.correlations)).toEqual([1, 0.42, 0.42, 1]);
  });

  it("changes the error rate of a bank with a twin by no more than the draws' own scatter", () => {
    const twins = { weights: Float64Array.of(0.5, 0.5), correlations: Float64Array.of(1, 0.9999, 0.9999, 1) };
    const { bank } = withoutTwins(twins);
    expect(bank.weights.length).toBe(1);
    const [one, both] = [bank, twins].map((each) => scoreDistribution(each, 0, randomGenerator(5)).pValue(2.5));
    expect(Math.abs(both! / one! - 1)).toBeLessThan(0.15);
  });
});
