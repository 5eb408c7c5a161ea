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

  it("is the formula: even prior of the logarithm of the scatter, ellipsoid of offsets, density of gaps alike", () => {
    const timesS = [0, 5.8, 10.1, 14.2, 20.3, 24.9];
    const spreadsS = [0.05, 0.04, 0.06, 0.05, 0.07, 0.05];
    const on = timesS.map((_, k) => k % 2 === 0);
    // Gaps on to off: 5.8, 4.1, 4.6; off to on: 4.3, 6.1.
    const squaresOf = (gaps: number[]) => {
      const mean = gaps.reduce((a, b) => a + b, 0) / gaps.length;
      return gaps.reduce((sum, gap) => sum + (gap - mean) ** 2, 0);
    };
    const squares = squaresOf([5.8, 4.1, 4.6]) + squaresOf([4.3, 6.1]);
    const usual = Math.sqrt(squares / 3);
    const discord = 7;
    // Volume of the ellipsoid of five offsets against the sixth: pi^2.5 / gamma(3.5) discord^2.5 times spreads.
    const gamma = (15 / 8) * Math.sqrt(Math.PI);
    const volume =
      ((Math.PI * discord) ** 2.5 / gamma) *
      spreadsS.reduce((product, s) => product * s, 1) *
      Math.sqrt(spreadsS.reduce((sum, s) => sum + s ** -2, 0));
    const own = spreadsS.reduce((sum, s) => sum + s * s, 0) / 6;
    const densityAt = (scatter: number) => {
      const apart = Math.max(0, 2 * scatter ** 2 - 2.5 * own);
      // Covariance of the five differences of gaps: tridiagonal, neighbours share a step.
      const matrix = Array.from({ length: 5 }, (_, a) =>
        Array.from({ length: 5 }, (_, b) =>
          a === b
            ? apart + spreadsS[a]! ** 2 + spreadsS[a + 1]! ** 2
            : Math.abs(a - b) === 1
              ? -(spreadsS[Math.max(a, b)]! ** 2)
              : 0,
        ),
      );
      let determinant = 1;
      for (let k = 0; k < 5; k++) {
        determinant *= matrix[k]![k]!;
        for (let r = k + 1; r < 5; r++) {
          const factor = matrix[r]![k]! / matrix[k]![k]!;
          for (let c = k; c < 5; c++) matrix[r]![c]! -= factor * matrix[k]![c]!;
        }
      }
      return 1 / Math.sqrt((2 * Math.PI) ** 5 * determinant);
    };
    let [sum, total] = [0, 0];
    for (let i = 0; i < 60; i++) {
      const scatter = usual * Math.exp(-3 + (6 * (i + 0.5)) / 60);
      const weight = (usual / scatter) ** 3 * Math.exp(-1.5 * (usual / scatter) ** 2);
      sum += weight * volume * densityAt(scatter);
      total += weight;
    }
    expect(coincidence({ timesS, on, spreadsS, discord, wayCount: 1 })).toBeCloseTo(sum / total, 9);
    expect(coincidence({ timesS, on, spreadsS, discord, wayCount: 3 })).toBeCloseTo((3 * sum) / total, 9);
  });

  it("takes no better agreement than 0.6 for each gap", () => {
    const timesS = [0, 5.8, 10.1, 14.2, 20.3, 24.9];
    const at = (discord: number) =>
      coincidence({
        timesS,
        on: timesS.map((_, i) => i % 2 === 0),
        spreadsS: timesS.map(() => 0.05),
        discord,
        wayCount: 1,
      });
    expect(at(0)).toBe(at(3));
    expect(at(3.1)).toBeGreaterThan(at(3));
  });

  it("is never above 1, and keeps the kinds of gaps apart", () => {
    const timesS = [0, 5.8, 10.1, 14.2, 20.3, 24.9];
    const spreadsS = timesS.map(() => 3);
    const agreement = { timesS, on: timesS.map((_, i) => i % 2 === 0), spreadsS, discord: 50, wayCount: 9 };
    expect(coincidence(agreement)).toBe(1);
    // On for 5 s and off for 9 s, exactly: no scatter within either kind, so that the rhythm tells next to nothing.
    const even = [0, 5, 14, 19, 28, 33];
    const chance = (times: readonly number[]) =>
      coincidence({
        timesS: times,
        on: times.map((_, i) => i % 2 === 0),
        spreadsS: times.map(() => 0.05),
        discord: 3,
        wayCount: 1,
      });
    expect(chance(even)).toBeGreaterThan(0.5);
    expect(chance([0, 5, 14, 19.5, 28, 33])).toBeLessThan(0.05);
    // Steps that were missed leave gaps each of its own kind: on-off, off-off, off-on, on-on.
    const on = [true, false, false, true, true];
    const few = { timesS: timesS.slice(0, 5), spreadsS: on.map(() => 0.05), discord: 3, wayCount: 1 };
    expect(coincidence({ ...few, on })).toBe(1);
    expect(coincidence({ ...few, on: [true, false, true, false, true] })).toBeLessThan(0.1);
  });
});
