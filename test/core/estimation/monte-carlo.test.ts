import { describe, expect, it } from "vitest";
import {
  adaptiveMonteCarlo,
  monteCarlo,
  shortestInterval,
  symmetricInterval,
} from "../../../src/core/estimation/monte-carlo.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("monteCarlo()", () => {
  it("gives mean and standard deviation of an exponential variable, and its known intervals", () => {
    const { mean, u, sorted } = monteCarlo((random) => -Math.log(random.uniform()), randomGenerator(2));
    expect(Math.abs(mean - 1)).toBeLessThan(0.01);
    expect(Math.abs(u - 1)).toBeLessThan(0.015);
    const symmetric = symmetricInterval(sorted, 0.9);
    expect(Math.abs(symmetric.low + Math.log(0.95))).toBeLessThan(0.003);
    expect(Math.abs(symmetric.high + Math.log(0.05))).toBeLessThan(0.04);
    const shortest = shortestInterval(sorted, 0.9);
    expect(shortest.low).toBeLessThan(0.001);
    expect(Math.abs(shortest.high + Math.log(0.1))).toBeLessThan(0.03);
  });

  it("gives the same draws for the same seed", () => {
    const draw = () => monteCarlo((random) => random.normal(), randomGenerator(9), 1000).sorted;
    expect(draw()).toEqual(draw());
  });
});

describe("adaptiveMonteCarlo()", () => {
  it("stops early when one digit is asked, later for two, and says when it gave up", () => {
    const run = (digits: number, mostDraws: number) =>
      adaptiveMonteCarlo((random) => 10 + 9 * random.normal(), randomGenerator(4), {
        digits,
        coverage: 0.95,
        mostDraws,
      });
    const coarse = run(1, 2_000_000);
    const fine = run(2, 2_000_000);
    expect(coarse.stable && fine.stable).toBe(true);
    expect(coarse.sorted.length).toBeLessThan(fine.sorted.length);
    expect(run(4, 40_000).stable).toBe(false);
  });
});
