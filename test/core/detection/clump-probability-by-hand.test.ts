import { describe, expect, it } from "vitest";
import { scanProbability } from "../../../src/core/detection/clump-probability.js";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import { openBank } from "../../../src/core/detection/train-bank.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** A field that nothing is asked of: the clumps are known. */
const field = {} as EdgeField;

describe("scanProbability() with clumps known from an earlier scan", () => {
  const clumps = [Math.log(0.5), Math.log(0.02)];
  const of = (trainCounts: ReadonlyMap<number, number>, dof = Number.POSITIVE_INFINITY) =>
    scanProbability(field, openBank(0.3), trainCounts, { dof, random: randomGenerator(1), clumps });

  // Python, scipy 1.17.1: from scipy.stats import norm; [norm.sf(z) for z in (2, 2.5, 7, 8.5, 9)]
  it.each([
    // Log shares lie on a line through 0.5 at rank 4 and 0.02 at 5.5, from 2.5 to 7 and no farther; never above 1.
    [2, 0.0227501319481792, 1],
    [2.5, 0.006209665325776132, 1],
    [7, 1.279812543885835e-12, 0.02 * 0.04],
    [8.5, 9.479534822203318e-18, 0.02 * 0.04],
    [9, 1.1285884059538408e-19, 0.02 * 0.04],
  ])("at rank %d is the single chance times the share of a line between the two levels", (rank, tail, share) => {
    const expected = -Math.expm1(-3 * tail * share);
    expect(of(new Map([[0, 3]])).pValue(rank) / expected).toBeCloseTo(1, 4);
  });

  it("holds the line where it falls below 2.5 and where it rises", () => {
    const rising = scanProbability(field, openBank(0.3), new Map([[0, 1]]), {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(1),
      clumps: [Math.log(0.1), Math.log(0.2)],
    });
    // Half as much a step of 1.5 lower, and no less: norm.sf(1) = 0.158655.
    expect(rising.pValue(1) / -Math.expm1(-0.15865525393145707 * 0.05)).toBeCloseTo(1, 4);
    expect(rising.pValue(2.5) / -Math.expm1(-0.006209665325776132 * 0.05)).toBeCloseTo(1, 4);
    expect(rising.pValue(7) / (1.279812543885835e-12 * 0.4)).toBeCloseTo(1, 3);
  });

  it("is the plain sum beyond rank ten", () => {
    // norm.sf(10.5) = 4.319006e-26
    expect(of(new Map([[0, 1e6]])).pValue(10.5) / 4.319006e-20).toBeCloseTo(1, 3);
  });

  it("takes the tail of Student's distribution where the noise is known by few degrees of freedom", () => {
    // t of five degrees of freedom: 0.5 % beyond 4.0321 (any table).
    const probability = of(new Map([[0, 2]]), 5);
    const share = Math.exp(Math.log(0.5) + (0.0321 / 1.5) * Math.log(0.04));
    expect(probability.pValue(4.0321) / -Math.expm1(-2 * 0.005 * share)).toBeCloseTo(1, 3);
  });

  it("adds the trains by their rarity, each by the score that its rank asks for", () => {
    // Rank 4 of a rarity of 4.5 is a score of 5: norm.sf(5) = 2.866516e-7; of none 4: 3.167124e-5.
    const both = of(
      new Map([
        [0, 10],
        [4.5, 1000],
      ]),
    );
    expect(both.pValue(4) / (0.5 * (10 * 3.167124e-5 + 1000 * 2.866516e-7))).toBeCloseTo(1, 3);
  });

  it("criticalRank() is where the chance is the rate, to a millionth, and 12 or 1 where it lies beyond", () => {
    const probability = of(new Map([[0, 500]]));
    for (const rate of [0.2, 0.01, 1e-6]) {
      const rank = probability.criticalRank(rate);
      expect(probability.pValue(rank - 1e-6)).toBeGreaterThan(rate);
      expect(probability.pValue(rank + 1e-6)).toBeLessThan(rate);
    }
    expect(probability.criticalRank(0)).toBeCloseTo(12, 9);
    expect(of(new Map([[0, 0.01]])).criticalRank(0.5)).toBeCloseTo(1, 9);
  });
});
