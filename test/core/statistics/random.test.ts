import { describe, expect, it } from "vitest";
import { chiSquareQuantile } from "../../../src/core/statistics/distribution.js";
import { randomGenerator, xoshiro128StarStar } from "../../../src/core/statistics/random.js";

describe("random", () => {
  it("xoshiro128StarStar() repeats the sequence of the authors' C code", () => {
    // Published: github edorfaus/xoshiro-6502, test-rom/testdata.asm, "generated with the C reference implementation"
    const next = xoshiro128StarStar([0x964d4a0c, 0xd40ab895, 0xad7fdecb, 0x3006f0f0]);
    expect([next(), next(), next(), next()]).toEqual([0xf1391922, 0x6fe53806, 0xa5be2840, 0xf510ee70]);
  });

  it("randomGenerator() yields the same numbers for the same seed and others for another", () => {
    const draw = (seed: number) => {
      const random = randomGenerator(seed);
      return [random.uniform(), random.normal(), random.normal(), random.uniform()];
    };
    expect(draw(7)).toEqual(draw(7));
    expect(draw(7)).not.toEqual(draw(8));
  });

  it("uniform() fills 64 cells evenly for 20 seeds (chi-square, 1 in 1e6 per seed)", () => {
    const limit = chiSquareQuantile(1 - 1e-6, 63);
    for (let seed = 1; seed <= 20; seed++) {
      const random = randomGenerator(seed);
      const counts = new Float64Array(64);
      for (let k = 0; k < 6400; k++) counts[Math.floor(random.uniform() * 64)]++;
      const chiSquare = counts.reduce((sum, count) => sum + (count - 100) ** 2 / 100, 0);
      expect(chiSquare).toBeLessThan(limit);
    }
  });

  it("normal() has the moments of the standard normal distribution (5 standard errors, 10 seeds)", () => {
    const count = 20000;
    for (let seed = 1; seed <= 10; seed++) {
      const random = randomGenerator(seed);
      const moments = [0, 0, 0, 0];
      for (let k = 0; k < count; k++) {
        const x = random.normal();
        for (let power = 0; power < 4; power++) moments[power] += x ** (power + 1) / count;
      }
      const standardErrors = [1, Math.sqrt(2), Math.sqrt(15), Math.sqrt(96)].map((sd) => sd / Math.sqrt(count));
      [0, 1, 0, 3].forEach((want, power) => {
        expect(Math.abs(moments[power] - want)).toBeLessThan(5 * standardErrors[power]);
      });
    }
  });
});
