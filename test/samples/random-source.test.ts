import { describe, expect, it } from "vitest";
import { randomSource } from "../../samples/simulator/random-source.js";

const COUNT = 200_000;

describe("randomSource()", () => {
  it("randomSource(seed) repeats itself, and another seed differs", () => {
    const draw = (seed: number) => {
      const random = randomSource(seed);
      return Array.from({ length: 50 }, () => random.normal());
    };
    expect(draw(7)).toEqual(draw(7));
    expect(draw(7)).not.toEqual(draw(8));
  });

  // Bounds are five standard errors of each moment for 200,000 independent draws.
  it("normal() has the moments of the standard normal distribution", () => {
    const random = randomSource(1);
    const moments = [0, 0, 0, 0];
    for (let index = 0; index < COUNT; index++) {
      const value = random.normal();
      moments.forEach((_, power) => {
        moments[power]! += value ** (power + 1) / COUNT;
      });
    }
    expect(Math.abs(moments[0]!)).toBeLessThan(5 / Math.sqrt(COUNT));
    expect(Math.abs(moments[1]! - 1)).toBeLessThan(5 * Math.sqrt(2 / COUNT));
    expect(Math.abs(moments[2]!)).toBeLessThan(5 * Math.sqrt(15 / COUNT));
    expect(Math.abs(moments[3]! - 3)).toBeLessThan(5 * Math.sqrt(96 / COUNT));
  });

  it("uniform() fills a hundred equal bins evenly", () => {
    const random = randomSource(2);
    const bins = new Float64Array(100);
    for (let index = 0; index < COUNT; index++) bins[Math.floor(random.uniform() * 100)]! += 1;
    const expected = COUNT / 100;
    const chiSquare = bins.reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0);
    // Chi-square with 99 degrees of freedom: mean 99, standard deviation sqrt(198); five of them.
    expect(Math.abs(chiSquare - 99)).toBeLessThan(5 * Math.sqrt(198));
  });

  it("successive normal() values are not correlated", () => {
    const random = randomSource(3);
    let last = random.normal();
    let sum = 0;
    for (let index = 0; index < COUNT; index++) {
      const next = random.normal();
      sum += last * next;
      last = next;
    }
    expect(Math.abs(sum / COUNT)).toBeLessThan(5 / Math.sqrt(COUNT));
  });
});
