import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { searchNoise } from "../../../src/core/detection/search-noise.js";
import { fallOf, noisySeries } from "./noise-kinds.js";

const kind = { name: "wandering", whiteV: 0.02, colouredV: 0.02, walkVPerSqrtS: 0.006 };
const SEEDS = [1, 2, 3, 4, 5, 6];

/** Geometric mean over the seeds of the fitted walk over the drawn one. */
function walkRatio(fallV?: (timeS: number) => number): number {
  const logs = SEEDS.map((seed) => {
    const series = noisySeries(kind, { seed, rateHz: 5, durationS: 900, ...(fallV === undefined ? {} : { fallV }) });
    return Math.log(searchNoise(new ReadingsDesign(series), []).walkVPerSqrtS / kind.walkVPerSqrtS);
  });
  return Math.exp(logs.reduce((sum, log) => sum + log, 0) / logs.length);
}

describe("searchNoise() of a long recording", () => {
  // Seven stretches of a minute tell the walk to about a quarter each; the prior, a third of it, draws it down a little.
  it("finds a slow walk, where single stretches alone would halve it", () => {
    const ratio = walkRatio();
    expect(ratio).toBeGreaterThan(0.65);
    expect(ratio).toBeLessThan(1.4);
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
