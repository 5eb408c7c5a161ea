import { describe, expect, it } from "vitest";
import { fromLogs, toLogs } from "../../../src/core/noise/noise-parameters.js";
import { nodesOf, posteriorNodes } from "../../../src/core/noise/posterior-nodes.js";
import { fitNoise, type NoisePrior, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { invert } from "../../oracles/dense-noise.js";
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

describe("nodesOf() of objectives written down", () => {
  const mode = Float64Array.of(-3, -4, 0.2, -5, -7);
  const wide: NoisePrior = { meanLogs: mode, sdLogs: new Float64Array(5).fill(100) };
  const fit = { logs: mode, noise: fromLogs(mode), objective: 12 };
  const deviations = (logs: Float64Array) => Array.from(logs, (value, k) => value - mode[k]!);
  const nodesBy = (risen: (z: readonly number[]) => number, prior = wide) =>
    nodesOf((logs) => 12 + risen(deviations(logs)), prior, fit).map(({ noise, weight }) => ({
      z: deviations(toLogs(noise)),
      weight,
    }));
  const moment = (nodes: ReturnType<typeof nodesBy>, f: (z: readonly number[]) => number) =>
    nodes.reduce((sum, { z, weight }) => sum + weight * f(z), 0);
  /** A precision whose parts hang together, each in its own unit. */
  const precision = [0, 1, 2, 3, 4].map((a) =>
    [0, 1, 2, 3, 4].map(
      (b) => (a === b ? 1 : 0.3 / (1 + Math.abs(a - b))) * (a + 1) * (b + 1) * ((a + b) % 2 === 1 ? -1 : 1),
    ),
  );
  const quadratic = (z: readonly number[]) =>
    0.5 * z.reduce((sum, za, a) => sum + z.reduce((part, zb, b) => part + precision[a]![b]! * za * zb, 0), 0);

  it("have mean and covariance of a normal posterior: the inverse of its precision", () => {
    const nodes = nodesBy(quadratic);
    expect(nodes).toHaveLength(1 + 10 + 16);
    const { inverse } = invert(precision);
    for (let a = 0; a < 5; a++) {
      expect(moment(nodes, (z) => z[a]!)).toBeCloseTo(0, 6);
      for (let b = 0; b < 5; b++) {
        const size = Math.sqrt(inverse[a]![a]! * inverse[b]![b]!);
        expect((moment(nodes, (z) => z[a]! * z[b]!) - inverse[a]![b]!) / size, `${a} ${b}`).toBeCloseTo(0, 6);
      }
    }
  });

  it("take no direction for wider than twice the prior", () => {
    // Nothing at all is told of the last part, of which the prior knows 0.3.
    const prior = { meanLogs: mode, sdLogs: Float64Array.of(100, 100, 100, 100, 0.3) };
    const nodes = nodesBy((z) => 0.5 * z.slice(0, 4).reduce((sum, one) => sum + one * one, 0), prior);
    const farthest = Math.max(...nodes.map(({ z }) => Math.abs(z[4]!)));
    expect(farthest).toBeCloseTo(2 * 0.3 * 1.1 * Math.sqrt(5), 9);
  });

  it("go by each part alone where the curvature is no covariance", () => {
    // Two parts that fall together faster than either rises.
    const nodes = nodesBy((z) => 0.5 * z.reduce((sum, one) => sum + one * one, 0) - 1.5 * z[0]! * z[1]!);
    const onAxes = nodes.slice(1).filter(({ z }) => z.filter((one) => Math.abs(one) > 1e-9).length === 1);
    expect(onAxes).toHaveLength(10);
    for (const { z } of onAxes) expect(Math.hypot(...z)).toBeCloseTo(1.1 * Math.sqrt(5), 6);
  });

  it("let no place count more than e^2 times what a normal posterior gives it, and leave out the impossible", () => {
    // 27 less one places on a sphere of radius 1.1 root 5, where a normal posterior has risen by 3.025.
    const rises = 0.5 * 1.1 ** 2 * 5;
    const share = (rise: number) => {
      const nodes = nodesBy((z) => {
        const square = z.reduce((sum, one) => sum + one * one, 0);
        return square < 1 ? square / 2 : rise;
      });
      return nodes[1]!.weight / nodes[0]!.weight;
    };
    const normal = share(rises);
    expect(normal).toBeCloseTo(1 / 26 / 1.21 / (1 - 1 / 1.21), 9);
    expect(share(rises - 1.5) / normal).toBeCloseTo(Math.exp(1.5), 6);
    expect(share(rises - 2.5) / normal).toBeCloseTo(Math.exp(2), 6);
    const open = nodesBy((z) =>
      z[0]! > 1 ? Number.POSITIVE_INFINITY : 0.5 * z.reduce((sum, one) => sum + one * one, 0),
    );
    // One on the axis and eight of the corners lie beyond.
    expect(open).toHaveLength(27 - 9);
    expect(moment(open, () => 1)).toBeCloseTo(1, 12);
  });
});

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
