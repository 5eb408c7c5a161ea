import { describe, expect, it } from "vitest";
import { displayNoiseV } from "../../../src/core/noise/display-noise.js";
import { displayStepV } from "../../../src/core/noise/display-step.js";
import { fromLogs, toLogs } from "../../../src/core/noise/noise-parameters.js";
import { nodesOf } from "../../../src/core/noise/posterior-nodes.js";
import { likeliestNoise, priorPenalty, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { normalCdf } from "../../../src/core/statistics/distribution.js";
import { incompleteGamma } from "../../../src/core/statistics/incomplete-gamma.js";
import { exponentialLessOne, logarithmOfOnePlus } from "../../../src/core/statistics/portable-exponential.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const mode = Float64Array.of(-4, -5, -0.2, -6, -9);
/** Half of z' A z about the mode, A with correlated logarithms. */
const curvature = [
  [40, -10, 0, 0, 0],
  [-10, 12, 3, 0, 0],
  [0, 3, 5, 0, 0],
  [0, 0, 0, 2, 0.5],
  [0, 0, 0, 0.5, 1],
];
const quadratic = (logs: Float64Array) => {
  const z = logs.map((v, k) => v - mode[k]!);
  return (
    3 + 0.5 * curvature.reduce((sum, row, a) => sum + z[a]! * row.reduce((inner, v, b) => inner + v * z[b]!, 0), 0)
  );
};
const prior = { meanLogs: mode, sdLogs: Float64Array.of(2, 2, 2, 2, 2) };

describe("noise parameters", () => {
  it("fromLogs() undoes toLogs(), in the order of the interface", () => {
    const noise = { whiteV: 0.02, colouredV: 0.01, colouredTimeS: 0.8, walkVPerSqrtS: 0.002, bendVPerS15: 1e-4 };
    expect(Array.from(toLogs(noise))).toEqual(Object.values(noise).map((v) => expect.closeTo(Math.log(v), 12)));
    const back = fromLogs(toLogs(noise));
    for (const [key, value] of Object.entries(noise)) expect(back[key as keyof typeof back] / value).toBeCloseTo(1, 12);
  });

  it("weakNoisePrior() scales with the scatter, and its coloured noise is never faster than three intervals", () => {
    const [one, ten] = [weakNoisePrior(0.01, 0.1), weakNoisePrior(0.1, 0.1)];
    for (const k of [0, 1, 3, 4]) expect(ten.meanLogs[k]! - one.meanLogs[k]!).toBeCloseTo(Math.log(10), 12);
    expect(one.meanLogs[2]).toBeCloseTo(Math.log(0.8), 12);
    expect(weakNoisePrior(0.01, 2).meanLogs[2]).toBeCloseTo(Math.log(6), 12);
    expect(one.meanLogs[0]).toBeCloseTo(Math.log(0.01), 12);
    // "about an eighth of the scatter per root second".
    expect(Math.abs(Math.exp(one.meanLogs[3]!) / 0.01 - 1 / 8)).toBeLessThan(0.01);
  });

  it("priorPenalty() is half the sum of squares in its deviations", () => {
    const logs = mode.map((v, k) => v + k);
    expect(priorPenalty(logs, prior)).toBeCloseTo((0.5 * (0 + 1 + 4 + 9 + 16)) / 4, 12);
  });
});

describe("likeliestNoise()", () => {
  it("finds the least point of a bowl, from afar", () => {
    for (const start of [mode, Float64Array.of(0, 0, 0, 0, 0), Float64Array.of(-9, -1, 2, -3, -4)]) {
      const fit = likeliestNoise(quadratic, start);
      expect(fit.objective).toBeLessThan(3.001);
      fit.logs.forEach((v, k) => {
        expect(Math.abs(v - mode[k]!)).toBeLessThan(0.06);
      });
      expect(fit.noise.whiteV).toBeCloseTo(Math.exp(fit.logs[0]!), 12);
    }
  });

  it("goes round points at which nothing can be had, and never fails", () => {
    const fenced = (logs: Float64Array) => (logs[0]! > -3 ? Number.NaN : quadratic(logs));
    const fit = likeliestNoise(fenced, Float64Array.of(-3.5, 0, 0, 0, 0));
    expect(fit.objective).toBeLessThan(3.01);
    const start = Float64Array.of(0, 0, 0, 0, 0);
    const nowhere = likeliestNoise(() => Number.NaN, start);
    expect(Array.from(nowhere.logs)).toEqual([0, 0, 0, 0, 0]);
  });
});

describe("nodesOf()", () => {
  const nodes = nodesOf(quadratic, prior, { logs: mode, noise: fromLogs(mode), objective: 3 });
  const logsOf = nodes.map(({ noise }) => toLogs(noise));

  it("are 27 points, the mode first, whose weights sum to 1", () => {
    expect(nodes).toHaveLength(27);
    expect(nodes[0]!.noise).toEqual(fromLogs(mode));
    expect(nodes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
  });

  it("have mean and covariance of a normal posterior", () => {
    for (let a = 0; a < 5; a++) {
      const mean = nodes.reduce((sum, { weight }, k) => sum + weight * logsOf[k]![a]!, 0);
      expect(mean).toBeCloseTo(mode[a]!, 9);
    }
    const covariance = Array.from({ length: 5 }, (_, a) =>
      Array.from({ length: 5 }, (__, b) =>
        nodes.reduce(
          (sum, { weight }, k) => sum + weight * (logsOf[k]![a]! - mode[a]!) * (logsOf[k]![b]! - mode[b]!),
          0,
        ),
      ),
    );
    // Its product with the curvature is the identity.
    for (let a = 0; a < 5; a++) {
      for (let b = 0; b < 5; b++) {
        const sum = covariance[a]!.reduce((total, v, k) => total + v * curvature[k]![b]!, 0);
        expect(sum).toBeCloseTo(a === b ? 1 : 0, 6);
      }
    }
  });

  it("give less weight to a point that is less likely than a normal one would be, and none to one that cannot be had", () => {
    const steep = (logs: Float64Array) => quadratic(logs) + (logs[4]! > mode[4]! + 0.8 ? 2 : 0);
    const skewed = nodesOf(steep, prior, { logs: mode, noise: fromLogs(mode), objective: 3 });
    const mean = skewed.reduce((sum, { weight, noise }) => sum + weight * toLogs(noise)[4]!, 0);
    expect(mean).toBeLessThan(mode[4]! - 0.1);
    const fenced = (logs: Float64Array) => (logs[4]! > mode[4]! + 0.8 ? Number.POSITIVE_INFINITY : quadratic(logs));
    expect(nodesOf(fenced, prior, { logs: mode, noise: fromLogs(mode), objective: 3 }).length).toBeLessThan(27);
  });

  it("are held by the prior where the readings tell nothing", () => {
    const flat = nodesOf(() => 3, prior, { logs: mode, noise: fromLogs(mode), objective: 3 });
    for (const { noise } of flat) for (const v of Object.values(noise)) expect(Number.isFinite(v)).toBe(true);
    const spread = flat.reduce((most, { noise }) => Math.max(most, Math.abs(toLogs(noise)[0]! - mode[0]!)), 0);
    // Twice the prior's deviation of 2, on a sphere of radius 1.1 root five.
    expect(spread).toBeCloseTo(4 * 1.1 * Math.sqrt(5), 6);
  });
});

describe("displayStepV() of readings on no ladder", () => {
  it("is none where levels lie off their rungs, but for one in a hundred", () => {
    const ladder = Float64Array.from({ length: 200 }, (_, i) => 24 + 0.1 * i);
    expect(displayStepV(ladder)).toBeCloseTo(0.1, 9);
    const stray = (count: number) => ladder.map((v, i) => (i >= 200 - count ? v + 0.03 : v));
    expect(displayStepV(stray(2))).toBeCloseTo(0.1, 2);
    expect(displayStepV(stray(3))).toBeNull();
  });

  it("is none of levels that are all but the same, or far too many rungs apart", () => {
    expect(displayStepV(Float64Array.of(24, 24 + 1e-10, 24.1))).toBeNull();
    expect(displayStepV(Float64Array.of(0, 1, 29_000))).toBe(1);
    expect(displayStepV(Float64Array.of(0, 1, 31_000))).toBeNull();
  });

  it("of two levels is their distance", () => {
    expect(displayStepV(Float64Array.of(24, 24.5, 24))).toBe(0.5);
    expect(displayStepV(Float64Array.from({ length: 600 }, (_, i) => i))).toBeCloseTo(1, 12);
    expect(displayStepV(Float64Array.from({ length: 601 }, (_, i) => i))).toBeNull();
    expect(displayStepV(new Float64Array(3).fill(24.123456789))).toBeCloseTo(1e-6, 15);
  });
});

describe("displayNoiseV()", () => {
  const random = randomGenerator(3);
  const rounded = (sigmaV: number, levelV: number, rateHz = 20) => {
    const timesS = Float64Array.from({ length: 120 * rateHz }, (_, i) => i / rateHz);
    return { timesS, voltagesV: timesS.map(() => Math.round((levelV + sigmaV * random.normal()) / 0.1) * 0.1) };
  };

  it("of a level on a digit is near the noise that the readings had, and never much above it", () => {
    // Beyond two neighbours lie about half of those off the digit, the fewest fifth of stretches counted: it errs low.
    const found = displayNoiseV(rounded(0.08, 24), 0.1);
    expect(found).toBeGreaterThan(0.03);
    expect(found).toBeLessThan(0.09);
  });

  it("is nothing where no more than two digits show side by side, or in too few readings", () => {
    expect(displayNoiseV(rounded(0.01, 24.05), 0.1)).toBe(0);
    expect(displayNoiseV(rounded(0, 24), 0.1)).toBe(0);
    const few = { timesS: Float64Array.of(0, 1, 2, 3, 4), voltagesV: Float64Array.of(24, 24.1, 24.2, 24.3, 24.4) };
    expect(displayNoiseV(few, 0.1)).toBe(0);
  });

  it("reads the share beyond two digits as if the level lay on one", () => {
    // In each stretch of 2 s, 21 readings at 0.1 s: 24.0 fifteen times, 24.1 three and 23.9 three: 3 / 21 are beyond.
    const timesS = Float64Array.from({ length: 420 }, (_, i) => Math.floor(i / 21) * 3 + (i % 21) * 0.1);
    const voltagesV = timesS.map((_, i) => (i % 21 < 15 ? 24 : i % 21 < 18 ? 24.1 : 23.9));
    const found = displayNoiseV({ timesS, voltagesV }, 0.1);
    // Half a step at the normal quantile whose tail is 1 / 7.
    expect(1 - normalCdf(0.05 / found)).toBeCloseTo(1 / 7, 6);
  });
});

describe("functions near nothing and far out", () => {
  it("exponentialLessOne() and logarithmOfOnePlus() keep their digits and their ends", () => {
    for (const x of [1e-18, -1e-9, 0.3, -0.9, 5, -40]) {
      expect(exponentialLessOne(x) / Math.expm1(x)).toBeCloseTo(1, 13);
      if (x > -1) expect(logarithmOfOnePlus(x) / Math.log1p(x)).toBeCloseTo(1, 13);
    }
    expect(exponentialLessOne(0)).toBe(0);
    expect(logarithmOfOnePlus(0)).toBe(0);
    expect(logarithmOfOnePlus(-1)).toBe(Number.NEGATIVE_INFINITY);
    expect(exponentialLessOne(800)).toBe(Number.POSITIVE_INFINITY);
  });

  it("incompleteGamma() refuses what means nothing", () => {
    for (const [a, x] of [
      [0, 1],
      [-1, 1],
      [1, -1],
      [Number.NaN, 1],
      [1, Number.NaN],
    ] as const)
      expect(() => incompleteGamma(a, x), `${a} ${x}`).toThrow(RangeError);
  });
});
