import { describe, expect, it } from "vitest";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import { shiftedEnergies, trainEnergy } from "../../../src/core/detection/train-scan.js";
import { analyze } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const DIPS_S = [0, 16, 32];

/** Two readings a second with 10 mV of noise, and three dips of 0.2 V about the middle. */
function recorded(durationS: number, seed: number) {
  const random = randomGenerator(seed);
  const startS = durationS / 2 - 24;
  const timesS = Float64Array.from({ length: 2 * durationS }, (_, i) => i / 2);
  const isOn = (t: number) => DIPS_S.some((onsetS) => t >= startS + onsetS && t < startS + onsetS + 8);
  return {
    timesS,
    voltagesV: timesS.map((t) => 24.5 + 0.2 * Math.exp(-t / 100) - (isOn(t) ? 0.2 : 0) + 0.01 * random.normal()),
  };
}

describe("analyze() without marks", () => {
  const covered: boolean[] = [];

  it.each([95, 105, 115, 130, 170, 260])("finds dips of twenty times the noise in %i s", (durationS) => {
    for (const seed of [1, 2, 3]) {
      const { loads } = analyze(recorded(durationS, seed), {});
      expect(loads.map(({ verdict, switchingCount }) => ({ verdict, switchingCount }))).toEqual([
        { verdict: "responded", switchingCount: 3 },
      ]);
      const { low, high } = loads[0]!.depth!;
      expect(high - low).toBeLessThan(0.05);
      covered.push(low < 0.2 && high > 0.2);
    }
  });

  it("tells a depth whose interval holds the true one in 95 % of them", () => {
    expect(covered).toHaveLength(18);
    // Of 18 intervals of 95 % five or more miss once in 650 such tests.
    expect(covered.filter((one) => !one).length).toBeLessThan(5);
  });
});

/** A straight line and white noise of 1 V: inner products of unit falls `stepS` apart, level and slope fitted over all of it. */
function whiteCovariance(count: number, edges: readonly number[]): Float64Array {
  const line = [1, 0].map((constant) =>
    Array.from({ length: count }, (_, i) => (constant === 1 ? 1 : i - (count - 1) / 2)),
  );
  const fall = (edge: number) => Array.from({ length: count }, (_, i) => (i >= edge ? -1 : 0));
  const inner = (a: readonly number[], b: readonly number[]) => a.reduce((sum, v, i) => sum + v * b[i]!, 0);
  const falls = edges.map(fall);
  const along = falls.map((one) => line.map((column) => inner(one, column) / Math.sqrt(inner(column, column))));
  return Float64Array.from({ length: edges.length ** 2 }, (_, k) => {
    const [a, b] = [Math.floor(k / edges.length), k % edges.length];
    return inner(falls[a]!, falls[b]!) - inner(along[a]!, along[b]!);
  });
}

describe("shiftedEnergies() in white noise, where edges hang together however far apart they are", () => {
  const size = 120;
  const count = 1500;
  const middle = Array.from({ length: size }, (_, k) => count / 2 - size / 2 + k);
  const field = {
    covariance: { matrix: whiteCovariance(count, middle), size, everywhere: false },
  } as unknown as EdgeField;
  const train = { rhythm: { onSteps: 16, offSteps: 17, rarity: 0 }, switchingCount: 3, first: 700 };
  const edges = [0, 16, 33, 49, 66, 82];

  it.each([0, 9, 20, 33, 40, 60, 80, 100, 130, 160])("is what two trains %i steps apart share", (steps) => {
    const at = edges.flatMap((edge) => [count / 2 - 100 + edge, count / 2 - 100 + edge + steps]);
    const products = whiteCovariance(count, at);
    let shared = 0;
    for (let i = 0; i < 6; i++) {
      for (let j = 0; j < 6; j++) shared += (-1) ** (i + j) * products[2 * i * at.length + 2 * j + 1]!;
    }
    // Of 48 that a train shares with itself; the line's part differs a little from place to place.
    expect(Math.abs(shiftedEnergies(field, train)(steps) - shared)).toBeLessThan(1.5);
  });
});

describe("shiftedEnergies()", () => {
  const size = 50;
  const lagged = (apart: number) => 4 * 0.6 ** apart - 0.3 * apart * Math.exp(-apart / 9);
  const field = {
    covariance: {
      matrix: Float64Array.from({ length: size * size }, (_, k) => lagged(Math.abs(Math.floor(k / size) - (k % size)))),
      size,
      everywhere: false,
    },
  } as unknown as EdgeField;
  const train = { rhythm: { onSteps: 4, offSteps: 5, rarity: 0 }, switchingCount: 2, first: 300 };

  it.each([0, 1, 4, 9, 13, 30])("is the inner product of two trains %i steps apart, edge by edge", (steps) => {
    const edges = [0, 4, 9, 13].map((at, k) => ({ at, sign: k % 2 === 0 ? 1 : -1 }));
    const slow = edges.flatMap((one) =>
      edges.map((other) => {
        return one.sign * other.sign * lagged(Math.abs(one.at - other.at - steps));
      }),
    );
    const sum = slow.reduce((total, part) => total + part, 0);
    expect(shiftedEnergies(field, train)(steps)).toBeCloseTo(sum, 10);
    if (steps === 0) expect(sum).toBeCloseTo(trainEnergy(field, train), 10);
  });

  it("is nothing further off than the covariance is known", () => {
    expect(shiftedEnergies(field, train)(size + 13)).toBe(0);
  });
});
