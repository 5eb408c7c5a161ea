import { describe, expect, it } from "vitest";
import { toLogs } from "../../../src/core/noise/noise-parameters.js";
import { posteriorNodes } from "../../../src/core/noise/posterior-nodes.js";
import { fitNoise, type NoisePrior, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { residualsV, timesS } from "./readings.js";

const sampled = { timesS, readingCounts: new Float64Array(timesS.length).fill(1) };

/** The readings beside constant and line; few enough that a prior can drown them. */
function readings(gain = 1) {
  const columns = Float64Array.from({ length: 3 * timesS.length }, (_, k) => {
    const i = Math.floor(k / 3);
    return [1, (timesS[i]! - 15) / 12, gain * residualsV[i]!][k % 3]!;
  });
  return { sampled, columns, columnCount: 3 };
}

describe("posteriorNodes()", () => {
  it("gives the moments of a normal posterior: the prior's own where the readings say next to nothing", () => {
    // Within 0.01 of a logarithm 26 readings cannot move anything: their curvature is some 10, the prior's 10,000.
    const sds = Float64Array.of(0.01, 0.008, 0.012, 0.01, 0.006);
    const prior: NoisePrior = { meanLogs: weakNoisePrior(0.04, 0.5).meanLogs, sdLogs: sds };
    const fit = fitNoise(readings(), prior);
    const nodes = posteriorNodes(readings(), prior, fit);
    const offsets = nodes.map(({ noise }) => toLogs(noise).map((value, k) => value - fit.logs[k]!));
    const moment = (f: (offset: Float64Array) => number) =>
      nodes.reduce((sum, { weight }, k) => sum + weight * f(offsets[k]!), 0);
    for (let a = 0; a < 5; a++) {
      expect(Math.abs(moment((z) => z[a]!)), `mean ${a}`).toBeLessThan(0.03 * sds[a]!);
      expect(Math.abs(moment((z) => z[a]! ** 2) / sds[a]! ** 2 - 1), `variance ${a}`).toBeLessThan(0.03);
      for (let b = 0; b < a; b++) {
        expect(Math.abs(moment((z) => z[a]! * z[b]!)), `${a}, ${b}`).toBeLessThan(0.03 * sds[a]! * sds[b]!);
      }
    }
  });

  it("starts at the mode, and its weights are positive and sum to 1", () => {
    const prior = weakNoisePrior(0.04, 0.5);
    const fit = fitNoise(readings(), prior);
    const nodes = posteriorNodes(readings(), prior, fit);
    expect(nodes[0]!.noise).toEqual(fit.noise);
    expect(nodes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
    for (const { weight } of nodes) expect(weight).toBeGreaterThan(0);
  });

  it("scales with the readings: ten times the volts move every node's noise by ten", () => {
    const small = weakNoisePrior(0.04, 0.5);
    const large = weakNoisePrior(0.4, 0.5);
    const fit = fitNoise(readings(), small);
    const factor = Math.log(10);
    const moved = fit.logs.map((value, k) => (k === 2 ? value : value + factor));
    const shift = 26 - 2; // ln of the scale falls out of the determinant once for each free reading
    const scaledFit = { logs: moved, noise: fit.noise, objective: fit.objective + shift * factor };
    const here = posteriorNodes(readings(), small, fit);
    const there = posteriorNodes(readings(10), large, scaledFit);
    expect(there.length).toBe(here.length);
    here.slice(1).forEach(({ noise, weight }, k) => {
      const other = there[k + 1]!;
      expect(Math.abs(other.weight - weight)).toBeLessThan(1e-4);
      expect(Math.abs(other.noise.whiteV / noise.whiteV / 10 - 1)).toBeLessThan(1e-3);
      expect(Math.abs(other.noise.colouredTimeS / noise.colouredTimeS - 1)).toBeLessThan(1e-3);
    });
  });
});
