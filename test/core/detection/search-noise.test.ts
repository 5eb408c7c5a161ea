import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { noiseOfMinutes, searchNoise } from "../../../src/core/detection/search-noise.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { fallOf, noisySeries } from "./noise-kinds.js";

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
      const [open, stiff] = [false, true].map((isStiff) => searchNoise(design, [], isStiff).noise);
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
