import { describe, expect, it } from "vitest";
import { CostPieces, levelRange } from "../../../src/core/detection/cost-pieces.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const LOW = -5;
const HIGH = 5;

/** Cost and candidate start at a level, read off the pieces as their description says. */
function at(pieces: CostPieces, level: number): { cost: number; start: number } {
  let k = 0;
  while (k < pieces.size - 1 && level > pieces.right[k]!) k += 1;
  return {
    cost: pieces.least[k]! + pieces.curvature[k]! * (level - pieces.vertex[k]!) ** 2,
    start: pieces.starts[k]!,
  };
}

/** The plain twin: one cost for each candidate start, kept whole. */
type Candidate = { readonly start: number; readonly terms: ((level: number) => number)[] };
const costOf = (candidates: readonly Candidate[], level: number) =>
  Math.min(...candidates.map(({ terms }) => terms.reduce((sum, term) => sum + term(level), 0)));
const grid = Array.from({ length: 401 }, (_, k) => LOW + (k * (HIGH - LOW)) / 400);

function expectSame(pieces: CostPieces, candidates: readonly Candidate[]): void {
  for (const level of grid) {
    const { cost, start } = at(pieces, level);
    expect(cost).toBeCloseTo(costOf(candidates, level), 8);
    const own = candidates.find((one) => one.start === start)!;
    expect(costOf([own], level)).toBeCloseTo(cost, 8);
  }
  expect(pieces.right[pieces.size - 1]).toBe(HIGH);
  for (let k = 1; k < pieces.size; k++) expect(pieces.right[k]).toBeGreaterThanOrEqual(pieces.right[k - 1]!);
}

describe("CostPieces", () => {
  it("is the least of all candidates at every level, as values and prices come in: squared loss", () => {
    for (let seed = 1; seed <= 12; seed++) {
      const random = randomGenerator(seed);
      let now = CostPieces.zero(HIGH);
      let next = CostPieces.zero(HIGH);
      let candidates: Candidate[] = [{ start: 0, terms: [] }];
      for (let t = 0; t < 25; t++) {
        const value = 2 * random.normal();
        const weight = 0.2 + random.uniform();
        now.add(value, weight);
        candidates = candidates.map(({ start, terms }) => ({
          start,
          terms: [...terms, (x) => weight * (x - value) ** 2],
        }));
        expectSame(now, candidates);
        const least = now.findLeast(LOW);
        // The least over levels of a quadratic of each candidate, by its own vertex within the range.
        const fine = Math.min(...grid.map((level) => costOf(candidates, level)));
        expect(least).toBeLessThanOrEqual(fine + 1e-9);
        expect(at(now, now.leastLevel).cost).toBeCloseTo(least, 9);
        expect(costOf(candidates, now.leastLevel)).toBeCloseTo(least, 8);
        expect(at(now, now.leastLevel).start).toBe(now.leastStart);
        // With three values more that are not in the pieces yet.
        const window = { weight: 3, mean: 0.5, squares: 2 };
        const withWindow = now.findLeastWith(window, LOW);
        const plain = Math.min(...grid.map((x) => costOf(candidates, x) + 2 + 3 * (x - 0.5) ** 2));
        expect(withWindow).toBeLessThanOrEqual(plain + 1e-9);
        expect(withWindow).toBeGreaterThan(plain - 0.05);
        now.findLeast(LOW);
        const price = least + 0.5 + 3 * random.uniform();
        now.offer(price, t + 1, LOW, next);
        candidates = [...candidates, { start: t + 1, terms: [() => price] }];
        [now, next] = [next, now];
        expectSame(now, candidates);
      }
    }
  });

  it("makes room for as many pieces as there are", () => {
    // Forty wells that do not touch, and what lies beside and between them: 81 pieces.
    const values = Array.from({ length: 40 }, (_, k) => -4.8 + 0.24 * k);
    const terms = values.map((value) => (x: number) => Math.min((x - value) ** 2, 0.05 ** 2));
    let now = CostPieces.zero(HIGH);
    let next = CostPieces.zero(HIGH);
    for (const value of values) {
      now.addBounded(value, 1, 0.05, LOW, next);
      [now, next] = [next, now];
    }
    expect(now.size).toBe(81);
    expectSame(now, [{ start: 0, terms }]);
    // Between the bottom of the wells and the level beside them, so that each well stays a piece of its own.
    const price = 40 * 0.05 ** 2 - 0.001;
    const fresh = CostPieces.zero(HIGH);
    now.offer(price, 1, LOW, fresh);
    expect(fresh.size).toBe(81);
    expectSame(fresh, [
      { start: 0, terms },
      { start: 1, terms: [() => price] },
    ]);
  });

  it("adds and finds the least in one pass just as in two", () => {
    for (let seed = 1; seed <= 10; seed++) {
      const random = randomGenerator(100 + seed);
      const make = () => {
        const pieces = CostPieces.zero(HIGH);
        const out = CostPieces.zero(HIGH);
        return [pieces, out] as [CostPieces, CostPieces];
      };
      let [a, aNext] = make();
      let [b, bNext] = make();
      for (let t = 0; t < 40; t++) {
        const value = 3 * random.normal();
        const weight = 0.2 + random.uniform();
        const one = a.addAndFindLeast(value, weight, LOW);
        b.add(value, weight);
        expect(b.findLeast(LOW)).toBeCloseTo(one, 9);
        expect(a.leastStart).toBe(b.leastStart);
        const price = one + 2 * random.uniform();
        a.offer(price, t + 1, LOW, aNext);
        b.offer(price, t + 1, LOW, bNext);
        [a, aNext] = [aNext, a];
        [b, bNext] = [bNext, b];
        expect(a.size).toBe(b.size);
      }
    }
  });

  it("is the least of all candidates under the loss that stops growing", () => {
    for (let seed = 1; seed <= 12; seed++) {
      const random = randomGenerator(200 + seed);
      const now = CostPieces.zero(HIGH);
      const next = CostPieces.zero(HIGH);
      let candidates: Candidate[] = [{ start: 0, terms: [] }];
      for (let t = 0; t < 15; t++) {
        const value = 2 * random.normal();
        const weight = 0.2 + random.uniform();
        const limit = 0.5 + random.uniform();
        now.addBounded(value, weight, limit, LOW, next);
        candidates = candidates.map(({ start, terms }) => ({
          start,
          terms: [...terms, (x) => weight * Math.min(Math.abs(x - value), limit) ** 2],
        }));
        expectSame(next, candidates);
        const least = next.findLeast(LOW);
        expect(least).toBeLessThanOrEqual(Math.min(...grid.map((level) => costOf(candidates, level))) + 1e-9);
        expect(costOf(candidates, next.leastLevel)).toBeCloseTo(least, 8);
        const price = least + 0.3 + random.uniform();
        next.offer(price, t + 1, LOW, now);
        candidates = [...candidates, { start: t + 1, terms: [() => price] }];
        expectSame(now, candidates);
      }
    }
  });

  it("drops a candidate that is nowhere the least, so that the pieces stay few", () => {
    const random = randomGenerator(7);
    let now = CostPieces.zero(HIGH);
    let next = CostPieces.zero(HIGH);
    for (let t = 0; t < 400; t++) {
      const least = now.addAndFindLeast(0.5 * random.normal(), 1, LOW);
      now.offer(least + 8, t + 1, LOW, next);
      [now, next] = [next, now];
    }
    expect(now.size).toBeLessThan(60);
    // An offer below everything leaves one piece.
    now.offer(-1, 401, LOW, next);
    expect(next.size).toBe(1);
    expect(at(next, 0)).toEqual({ cost: -1, start: 401 });
  });
});

describe("levelRange()", () => {
  it("holds all values with a hair of room on either side", () => {
    const { low, high } = levelRange(Float64Array.of(3, -2, 7, 4));
    expect(low).toBeLessThan(-2);
    expect(high).toBeGreaterThan(7);
    expect(-2 - low).toBeLessThan(1e-7);
    expect(high - 7).toBeLessThan(1e-7);
    const one = levelRange(Float64Array.of(0, 0));
    expect(one.high).toBeGreaterThan(one.low);
    const large = levelRange(Float64Array.of(1e6, 1e6));
    expect(large.high).toBeGreaterThan(large.low);
  });
});
