import { describe, expect, it } from "vitest";
import { baselineBefore } from "../../../src/core/estimation/baseline.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { invert, times } from "../../oracles/dense-noise.js";

const random = randomGenerator(2);
/** Readings half a second to three seconds apart. */
const timesS = Float64Array.from({ length: 60 }, () => 0.5 + 2.5 * random.uniform());
for (let k = 1; k < 60; k++) timesS[k]! += timesS[k - 1]!;
const values = timesS.map((t) => 24 - 0.002 * t + 0.01 * random.normal());

/** Level and slope by the normal equations: each reading, and the drift of 4e-5 a second and volt as one more observation. */
function byHand(from: number, to: number, referenceS: number, sigma: number, correlationS: number) {
  const count = to - from;
  const spanS = timesS[to - 1]! - timesS[from]!;
  // Readings of a correlation time T count as 1 + span / 2 T of them at the most.
  const independent = spanS > 0 ? Math.min(count, 1 + spanS / (2 * correlationS)) : 1;
  const weight = independent / count / sigma ** 2;
  const rows = Array.from({ length: count }, (_, k) => [1, timesS[from + k]! - referenceS]);
  const normal = [0, 1].map((a) =>
    [0, 1].map((b) =>
      rows.reduce(
        (sum, row) => sum + weight * row[a]! * row[b]!,
        a === 1 && b === 1 ? (4e-5 * values[to - 1]!) ** -2 : 0,
      ),
    ),
  );
  const right = [0, 1].map((a) => rows.reduce((sum, row, k) => sum + weight * row[a]! * values[from + k]!, 0));
  const { inverse } = invert(normal);
  return { solution: times(inverse, right), inverse, count };
}

describe("baselineBefore()", () => {
  it.each([
    [0, 0, 40, 0],
    [0, 0, 59, 2],
    [1.5, 0, 50, 0],
    [40, 0, 50, 5],
    [0, 20, 24, 1],
    [0, 37, 37, 0],
  ])(
    "is least squares with the usual drift as one more observation (correlation %d s, readings %d to %d)",
    (correlationS, first, last, laterS) => {
      const place = { fromS: timesS[first]!, toS: timesS[last]!, referenceS: timesS[last]! + laterS };
      const found = baselineBefore(timesS, values, place, { sigma: 0.01, correlationS })!;
      // The last 30 s, or the last four readings where these are fewer, of those that are asked for.
      let from = last;
      while (from > first && (timesS[from - 1]! >= timesS[last]! - 30 || last - from + 1 < 4)) from -= 1;
      const { solution, inverse, count } = byHand(from, last + 1, place.referenceS, 0.01, correlationS);
      expect(found.count).toBe(count);
      expect(found.level).toBeCloseTo(solution[0]!, 9);
      expect(found.slope).toBeCloseTo(solution[1]!, 9);
      expect(found.uLevel / Math.sqrt(inverse[0]![0]!)).toBeCloseTo(1, 9);
      expect(found.uSlope / Math.sqrt(inverse[1]![1]!)).toBeCloseTo(1, 9);
      expect(found.covariance).toBeCloseTo(inverse[0]![1]!, 12);
    },
  );

  it("takes four readings that are older than 30 s, and is null where there is none", () => {
    const sparse = Float64Array.from({ length: 12 }, (_, k) => 20 * k);
    const at = (fromS: number, toS: number) =>
      baselineBefore(
        sparse,
        sparse.map(() => 24),
        { fromS, toS, referenceS: toS },
        { sigma: 0.01, correlationS: 0 },
      );
    expect(at(0, 200)!.count).toBe(4);
    expect(at(180, 200)!.count).toBe(2);
    // The reading of that very moment counts, but for rounding.
    expect(at(200, 200 - 1e-8)!.count).toBe(1);
    expect(at(201, 219)).toBeNull();
    expect(at(0, 200)!.level).toBeCloseTo(24, 12);
  });

  it("of readings about nothing has a slope of about nothing", () => {
    const still = baselineBefore(
      timesS,
      timesS.map(() => 0),
      { fromS: 0, toS: 60, referenceS: 60 },
      { sigma: 0.01, correlationS: 0 },
    )!;
    expect([still.level, still.slope]).toEqual([0, 0]);
    // A millionth of a volt drifts 4e-11 V a second.
    expect(still.uSlope).toBeCloseTo(4e-11, 15);
  });
});
