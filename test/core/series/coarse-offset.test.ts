import { describe, expect, it } from "vitest";
import { coarseOffsets } from "../../../src/core/series/coarse-offset.js";
import type { EvenGrid } from "../../../src/core/series/even-grid.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const grid = (values: readonly number[], startS = 0, mask: readonly number[] = values.map(() => 1)): EvenGrid => ({
  startS,
  stepS: 0.5,
  values: Float64Array.from(values),
  mask: Float64Array.from(mask),
});
/** A course that resembles itself at one shift only. */
const random = randomGenerator(5);
const course = Array.from({ length: 40 }, () => random.normal());

/** The score at one shift by its definition. */
function scoreAt(voltage: EvenGrid, current: EvenGrid, k: number): number {
  let [product, energy, overlap] = [0, 0, 0];
  current.values.forEach((a, t) => {
    const i = t + k;
    if (i < 0 || i >= voltage.values.length) return;
    product += voltage.values[i]! * a;
    energy += voltage.mask[i]! * a * a;
    overlap += voltage.mask[i]! * current.mask[t]!;
  });
  const count = (one: EvenGrid) => one.mask.reduce((sum, v) => sum + v, 0);
  const all = current.values.reduce((sum, a) => sum + a * a, 0);
  if (overlap < 0.1 * Math.min(count(voltage), count(current)) - 1e-9 || energy < 0.2 * all) return 0;
  return product / Math.sqrt(energy);
}

describe("coarseOffsets()", () => {
  it("finds the shift at which the courses resemble each other, whichever sign the current has", () => {
    for (const sign of [1, -1]) {
      // The voltage's grid begins at 7 s, the current's at 3 s; six cells of the course come before the voltage.
      const voltage = grid(
        course.slice(6).map((v) => 0.1 * v),
        7,
      );
      const current = grid(
        course.map((v) => sign * v),
        3,
      );
      const { best } = coarseOffsets(voltage, current, 3600)!;
      // Cell 6 of the current, at 6 s, is cell 0 of the voltage, at 7 s.
      expect(best.offsetS).toBeCloseTo(1, 9);
      expect(Math.sign(best.scoreV)).toBe(sign);
      const energy = course.slice(6).reduce((sum, v) => sum + v * v, 0);
      expect(Math.abs(best.scoreV)).toBeCloseTo(0.1 * Math.sqrt(energy), 9);
    }
  });

  it("gives best and best other shift as the definition does, over all shifts", () => {
    const holes = course.map((_, i) => (i % 7 === 3 ? 0 : 1));
    const voltage = grid([...course.map((v, i) => v * holes[i]!), ...course.slice(0, 20)], 0, [
      ...holes,
      ...new Array(20).fill(1),
    ]);
    const current = grid(course);
    const { best, other } = coarseOffsets(voltage, current, 3600)!;
    const shifts = Array.from({ length: 101 }, (_, i) => i - 41);
    const scores = shifts.map((k) => scoreAt(voltage, current, k));
    const at = (one: { offsetS: number }) => shifts.indexOf(Math.round(one.offsetS / 0.5));
    expect(best.scoreV).toBeCloseTo(scores[at(best)]!, 9);
    expect(other!.scoreV).toBeCloseTo(scores[at(other!)]!, 9);
    const sizes = scores.map(Math.abs);
    expect(Math.abs(best.scoreV)).toBeCloseTo(Math.max(...sizes), 9);
    // What falls from the best down to half of it, with its sign, belongs to the best.
    let [from, to] = [at(best), at(best)];
    while (scores[from - 1]! / best.scoreV > 0.5) from -= 1;
    while (scores[to + 1]! / best.scoreV > 0.5) to += 1;
    expect(Math.abs(other!.scoreV)).toBeCloseTo(Math.max(...sizes.filter((_, i) => i < from || i > to)), 9);
  });

  it("takes no shift that leaves a tenth of the shorter course, or a fifth of the current's square, and less", () => {
    const quiet = course.map((v) => 0.01 * v);
    const front = [...course.slice(0, 8), ...quiet.slice(8)];
    const back = [...quiet.slice(0, 37), 3, -3, 3];
    const pairs = [
      // The voltage begins with the quiet part of the current a hundred times as large.
      [[...course.slice(8), ...front], front],
      // The last three cells of the current are its loud ones, and the voltage begins with the same twice as large.
      [[6, -6, 6, ...back.slice(3)], back],
    ] as const;
    for (const [voltage, current] of pairs) {
      const { best } = coarseOffsets(grid(voltage), grid(current), 3600)!;
      const shifts = Array.from({ length: 120 }, (_, i) => i - 50);
      const sizes = shifts.map((k) => Math.abs(scoreAt(grid(voltage), grid(current), k)));
      expect(Math.abs(best.scoreV)).toBeCloseTo(Math.max(...sizes), 9);
    }
  });

  it("looks no farther than it is told", () => {
    const voltage = grid(course, 0);
    const current = grid(course, -10);
    expect(coarseOffsets(voltage, current, 10)!.best.offsetS).toBeCloseTo(10, 9);
    expect(coarseOffsets(voltage, current, 9.9)!.best.offsetS).not.toBeCloseTo(10, 1);
    expect(coarseOffsets(grid(course, 1000), current, 5)).toBeNull();
  });

  it("is nothing where one of them never changes", () => {
    expect(coarseOffsets(grid(new Array(20).fill(0)), grid(course), 3600)).toBeNull();
    expect(coarseOffsets(grid(course), grid(new Array(20).fill(0)), 3600)?.best.scoreV ?? 0).not.toBeGreaterThan(0);
  });

  it("takes the first of all shifts for the other one like any", () => {
    // Grids a quarter of a second apart, shifted by whole half seconds: two shifts lie within 0.3 s.
    const two = coarseOffsets(grid(course, 0.25), grid(course), 0.3)!;
    expect(two.best.offsetS).toBeCloseTo(0.25, 9);
    expect(two.other!.offsetS).toBeCloseTo(-0.25, 9);
    expect(two.other!.scoreV).toBeCloseTo(scoreAt(grid(course, 0.25), grid(course), -1), 9);
  });

  it("has no other where the reach leaves one shift", () => {
    expect(coarseOffsets(grid(course), grid(course), 0.1)!.other).toBeNull();
  });
});
