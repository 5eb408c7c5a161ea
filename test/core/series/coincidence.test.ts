import { describe, expect, it } from "vitest";
import { coincidence } from "../../../src/core/series/coincidence.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const random = randomGenerator(11);

/** On and off times about 5 s apart, each gap with a normal scatter. */
function train(stepCount: number, scatterS: number): number[] {
  let at = 0;
  return Array.from({ length: stepCount }, () => {
    at += 5 + scatterS * random.normal();
    return at;
  });
}

/** How much the offsets of two trains' steps disagree, in terms of the spread. */
function discordOf(one: readonly number[], other: readonly number[], spreadS: number): number {
  const offsets = one.map((time, i) => other[i]! - time);
  const mean = offsets.reduce((a, b) => a + b, 0) / offsets.length;
  return offsets.reduce((sum, offset) => sum + ((offset - mean) / spreadS) ** 2, 0);
}

function chanceOf(one: readonly number[], other: readonly number[], spreadS: number): number {
  return coincidence({
    timesS: one,
    on: one.map((_, i) => i % 2 === 0),
    spreadsS: one.map(() => spreadS),
    discord: discordOf(one, other, spreadS),
    wayCount: 1,
  });
}

describe("coincidence()", () => {
  it.each([
    { stepCount: 6, scatterS: 0.6, spreadS: 0.1 },
    { stepCount: 6, scatterS: 0.3, spreadS: 0.1 },
    { stepCount: 6, scatterS: 0, spreadS: 0.1 },
    { stepCount: 4, scatterS: 0.6, spreadS: 0.05 },
    { stepCount: 8, scatterS: 0.5, spreadS: 0.15 },
  ])("is below a limit in no larger share of unrelated pairs: %o", ({ stepCount, scatterS, spreadS }) => {
    const pairCount = 20_000;
    const seen = (times: readonly number[]) => times.map((time) => time + (spreadS / Math.SQRT2) * random.normal());
    const limit = 0.01;
    let count = 0;
    for (let i = 0; i < pairCount; i += 1) {
      const [one, other] = [seen(train(stepCount, scatterS)), seen(train(stepCount, scatterS))];
      if (chanceOf(one, other, spreadS) < limit) count += 1;
    }
    // Three standard deviations of a binomial count.
    expect(count).toBeLessThan(limit * pairCount + 3 * Math.sqrt(limit * pairCount));
  });

  it("tells the same train of uneven steps from another in most cases, and never that of even ones", () => {
    const of = (scatterS: number) => {
      let told = 0;
      for (let i = 0; i < 1000; i += 1) {
        const one = train(6, scatterS);
        const other = one.map((time) => time + 0.08 * random.normal());
        if (chanceOf(one, other, 0.08) < 0.002) told += 1;
      }
      return told / 1000;
    };
    expect(of(0.6)).toBeGreaterThan(0.7);
    expect(of(0)).toBeLessThan(0.02);
  });

  it("grows with the number of ways to match", () => {
    const timesS = [0, 5.8, 10.1, 14.2, 20.3, 24.9];
    const agreement = { timesS, on: timesS.map((_, i) => i % 2 === 0), spreadsS: timesS.map(() => 0.05), discord: 2 };
    const one = coincidence({ ...agreement, wayCount: 1 });
    expect(coincidence({ ...agreement, wayCount: 5 })).toBeCloseTo(5 * one, 12);
  });

  it("is 1 where there are too few gaps to tell how evenly time was kept", () => {
    const few = { timesS: [0, 5, 10], on: [true, false, true], spreadsS: [0.1, 0.1, 0.1], discord: 0.1, wayCount: 1 };
    expect(coincidence(few)).toBe(1);
  });
});
