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

  it("asks for two draws at least", () => {
    let next = 0;
    const { mean, u } = monteCarlo(() => 2 * next++, randomGenerator(1), 2);
    // 0 and 2.
    expect([mean, u]).toEqual([1, Math.SQRT2]);
    expect(() => monteCarlo(() => 0, randomGenerator(1), 1)).toThrow(RangeError);
  });

  it("gives the same draws for the same seed", () => {
    const draw = () => monteCarlo((random) => random.normal(), randomGenerator(9), 1000).sorted;
    expect(draw()).toEqual(draw());
  });
});

describe("coverage intervals of few draws", () => {
  const sorted = Float64Array.from({ length: 10 }, (_, k) => k * k);
  it("are all of them where the coverage asks for more than there are, and JCGM 101:2008, 7.7 by counting below", () => {
    for (const interval of [symmetricInterval, shortestInterval]) {
      expect(interval(sorted, 0.99)).toEqual({ low: 0, high: 81 });
    }
    // q = 6 of 10: r = (10 - 6) / 2 = 2, the third to the ninth; the shortest are the first seven.
    expect(symmetricInterval(sorted, 0.6)).toEqual({ low: 4, high: 64 });
    expect(shortestInterval(sorted, 0.6)).toEqual({ low: 0, high: 36 });
  });
});

describe("adaptiveMonteCarlo()", () => {
  it("takes two blocks of 10 000 at the least: one shows no scatter of blocks (JCGM 101:2008, 7.9.4)", () => {
    const constant = adaptiveMonteCarlo(() => 7, randomGenerator(4), { digits: 2, coverage: 0.95 });
    expect(constant).toMatchObject({ mean: 7, u: 0, stable: true });
    expect(constant.sorted).toHaveLength(20_000);
  });

  it.each([1, 2])("stops after as many blocks as JCGM 101:2008, 7.9.4 asks, at %d digits", (digits) => {
    const model = (random: { normal(): number }) => 10 + 9 * random.normal();
    for (let seed = 1; seed <= 3; seed++) {
      const random = randomGenerator(seed);
      const rows: number[][] = [];
      for (let isStable = false; !isStable; ) {
        const { mean, u, sorted } = monteCarlo(model, random, 10_000);
        const { low, high } = symmetricInterval(sorted, 0.95);
        rows.push([mean, u, low, high]);
        const h = rows.length;
        if (h === 1) continue;
        const average = (of: readonly number[]) => of.reduce((sum, one) => sum + one, 0) / h;
        const columns = [0, 1, 2, 3].map((k) => rows.map((row) => row[k]!));
        const sds = columns.map((of) =>
          Math.sqrt(of.reduce((sum, one) => sum + (one - average(of)) ** 2, 0) / (h * (h - 1))),
        );
        // u is 9.0: one digit is 9, half a unit of it 0.5; two are 90 x 10^-1, half a unit 0.05.
        isStable = sds.every((sd) => 2 * sd < 0.5 * 10 ** (1 - digits));
      }
      const found = adaptiveMonteCarlo(model, randomGenerator(seed), { digits, coverage: 0.95 });
      expect(found.stable).toBe(true);
      expect(found.sorted.length / 10_000, `seed ${seed}`).toBe(rows.length);
      // Mean and standard deviation of all draws, one degree of freedom less than there are.
      const count = found.sorted.length;
      const mean = found.sorted.reduce((sum, one) => sum + one, 0) / count;
      const squares = found.sorted.reduce((sum, one) => sum + (one - mean) ** 2, 0);
      expect(found.mean).toBeCloseTo(mean, 9);
      expect(found.u / Math.sqrt(squares / (count - 1))).toBeCloseTo(1, 9);
    }
  });

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
