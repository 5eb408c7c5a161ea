import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { degreesOfFreedom, noiseOfMinutes, searchNoise } from "../../../src/core/detection/search-noise.js";
import { posteriorNodes } from "../../../src/core/noise/posterior-nodes.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";
import { fallOf, noiseKinds, noisySeries } from "./noise-kinds.js";

const kind = { name: "wandering", whiteV: 0.02, colouredV: 0.02, walkVPerSqrtS: 0.006 };
const SEEDS = [1, 2, 3, 4, 5, 6];

/** Geometric mean over the seeds of the fitted walk over the drawn one. */
function walkRatio(fallV?: (timeS: number) => number): number {
  const logs = SEEDS.map((seed) => {
    const series = noisySeries(kind, { seed, rateHz: 5, durationS: 900, ...(fallV === undefined ? {} : { fallV }) });
    return Math.log(searchNoise(new ReadingsDesign(series), []).noise.walkVPerSqrtS / kind.walkVPerSqrtS);
  });
  return Math.exp(logs.reduce((sum, log) => sum + log, 0) / logs.length);
}

describe("noiseOfMinutes()", () => {
  it("takes a recording of up to 160 s in one piece, a longer one by its minutes", () => {
    const designOf = (durationS: number) => new ReadingsDesign(noisySeries(kind, { seed: 1, rateHz: 5, durationS }));
    const [short, long] = [designOf(150), designOf(170)];
    expect(noiseOfMinutes(short)).toEqual(searchNoise(short, []).noise);
    expect(noiseOfMinutes(long)).not.toEqual(fitNoise(long.explained([]), weakNoisePrior(long.scatterV, 0.2)).noise);
    expect(searchNoise(short, []).stretches).toHaveLength(1);
    expect(searchNoise(long, []).stretches.length).toBeGreaterThan(1);
  });
});

describe("searchNoise() of a short recording", () => {
  it("lets dips that nobody knows of hide less in a stiff level than in one that may wander", () => {
    const fall = fallOf([
      [30, 35],
      [40, 45],
      [50, 55],
    ]);
    const white = { name: "white", whiteV: 0.02, colouredV: 0, walkVPerSqrtS: 0 };
    for (const seed of SEEDS) {
      const fallV = (t: number) => 0.1 * fall(t);
      const design = new ReadingsDesign(noisySeries(white, { seed, rateHz: 5, durationS: 80, fallV }));
      const [open, stiff] = (["likeliest", "stiff"] as const).map((guess) => searchNoise(design, [], guess).noise);
      expect(stiff!.walkVPerSqrtS, `seed ${seed}`).toBeLessThan(0.5 * open!.walkVPerSqrtS);
    }
  });
});

describe("searchNoise() of a long recording", () => {
  it("finds a slow walk, where single stretches alone would halve it", () => {
    const ratio = walkRatio();
    expect(ratio).toBeGreaterThan(0.65);
    expect(ratio).toBeLessThan(1.4);
  });

  it("tells a level that does not wander for what it is", () => {
    // White noise of s volts at r readings a second hides a walk below about s / (T sqrt(r)) in T seconds.
    const calm = { name: "white", whiteV: 0.03, colouredV: 0, walkVPerSqrtS: 0 };
    for (const seed of SEEDS) {
      const series = noisySeries(calm, { seed, rateHz: 10, durationS: 1200 });
      const { walkVPerSqrtS, bendVPerS15 } = searchNoise(new ReadingsDesign(series), []).noise;
      expect(walkVPerSqrtS).toBeLessThan((10 * 0.03) / (200 * Math.sqrt(10)));
      // Likewise a bend, which moves the level by b T^1.5 / root three: below about s root three / (T^2 sqrt(r)).
      expect(bendVPerS15).toBeLessThan((10 * 0.03 * Math.sqrt(3)) / (200 ** 2 * Math.sqrt(10)));
    }
  });

  it("is not led astray by dips that nobody knows of", () => {
    const fall = fallOf([
      [432, 437],
      [442, 447],
      [452, 457],
    ]);
    const ratio = walkRatio((t) => 0.3 * fall(t));
    expect(ratio).toBeGreaterThan(0.6);
    expect(ratio).toBeLessThan(1.6);
  });
});

/** `1 / (2 var ln s)`, with the uncertainty of three dips of 5 s by dense least squares in the noise of every node. */
function denseDegrees(design: ReadingsDesign): number {
  const { timesS, valuesV, readingCounts } = design.series;
  const middleS = timesS[timesS.length >> 1]!;
  const risen = (sinceS: number) => (sinceS > 0 ? 1 - Math.exp(-sinceS / 0.35) : 0);
  const dips = timesS.map((t) =>
    [-10, 0, 10].reduce((sum, at) => sum + risen(t - middleS - at + 2.5) - risen(t - middleS - at - 2.5), 0),
  );
  const columns = [timesS.map(() => 1), timesS.map((t) => t - middleS), dips].map((column) => Array.from(column));
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const readings = design.explained([]);
  const nodes = posteriorNodes(readings, prior, fitNoise(readings, prior)).map(({ noise, weight }) => {
    const fit = generalizedLeastSquares(denseCovariance(timesS, readingCounts, noise), columns, valuesV);
    return { weight, log: Math.log(fit.estimateCovariance[2]![2]!) / 2 };
  });
  const mean = nodes.reduce((sum, { weight, log }) => sum + weight * log, 0);
  return 1 / (2 * nodes.reduce((sum, { weight, log }) => sum + weight * (log - mean) ** 2, 0));
}

describe("degreesOfFreedom()", () => {
  const of = (durationS: number, rateHz: number) =>
    new ReadingsDesign(noisySeries(kind, { seed: 2, rateHz, durationS }));

  it("is what the posterior of the noise leaves open of the size of three dips of 5 s, by dense least squares", () => {
    for (const design of [of(40, 3), of(70, 1)]) {
      const dense = denseDegrees(design);
      expect(dense).toBeGreaterThan(4);
      expect(degreesOfFreedom(design, []) / dense).toBeCloseTo(1, 4);
    }
  });
  it("tells noise of which half is missing no better than the whole", () => {
    for (let seed = 1; seed <= 5; seed++) {
      const whole = noisySeries(noiseKinds[3]!, { seed, rateHz: 5, durationS: 50 });
      const halves = { ...whole, timesS: whole.timesS.map((t) => (t < 25 ? t : t + 60)) };
      const [all, half] = [whole, halves].map((series) => degreesOfFreedom(new ReadingsDesign(series), []));
      expect(half! / all!, `seed ${seed}`).toBeGreaterThan(0.3);
      expect(half! / all!, `seed ${seed}`).toBeLessThan(2);
    }
  });
});
