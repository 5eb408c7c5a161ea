import { describe, expect, it } from "vitest";
import { stepResiduals, stepResponse } from "../../../src/core/series/step-time-likelihood.js";

const even = (count: number, intervalS = 1) => Float64Array.from({ length: count }, (_, i) => i * intervalS);
const search = { firstS: 2.5, stepS: 1, count: 4, lagsS: [0], correlation: 0, intervalS: 1 };

/** Residual sum of squares of the best fit of columns to values, by Gram-Schmidt written out plainly. */
function leastSquares(values: readonly number[], columns: readonly (readonly number[])[]): number {
  const dot = (a: readonly number[], b: readonly number[]) => a.reduce((sum, v, i) => sum + v * b[i]!, 0);
  const basis: number[][] = [];
  const rest = (of: readonly number[]) =>
    basis.reduce(
      (left, unit) => {
        const share = dot(left, unit);
        return left.map((v, i) => v - share * unit[i]!);
      },
      [...of],
    );
  for (const column of columns) {
    const left = rest(column);
    const size = Math.sqrt(dot(left, left));
    if (size > 1e-9) basis.push(left.map((v) => v / size));
  }
  const left = rest(values);
  return dot(left, left);
}

describe("stepResponse()", () => {
  it("is nothing before the step, all of it at once without a lag, and 1 - 1/e after one lag", () => {
    expect(stepResponse(-1e-9, 0.5)).toBe(0);
    expect(stepResponse(0, 0)).toBe(1);
    expect(stepResponse(0, 0.5)).toBe(0);
    expect(stepResponse(0.5, 0.5)).toBeCloseTo(1 - Math.exp(-1), 12);
  });
});

describe("stepResiduals()", () => {
  const few = Float64Array.of(1, 1.5, 0.5, 1, 4, 4.5, 3.5, 4);

  it("is what level and step leave over, at each time tried", () => {
    const [residuals] = stepResiduals({ timesS: even(8), values: few }, search);
    expect(residuals).toHaveLength(4);
    const ones = even(8).map(() => 1);
    [2.5, 3.5, 4.5, 5.5].forEach((onsetS, k) => {
      const step = even(8).map((t) => (t >= onsetS ? 1 : 0));
      expect(residuals![k]).toBeCloseTo(leastSquares([...few], [[...ones], [...step]]), 9);
    });
    // Four and four readings about 1 and 4: squares of 0.5 twice on either side.
    expect(residuals![1]).toBeCloseTo(1, 12);
  });

  it("lets a window of twelve readings slope as well, and one of eleven not", () => {
    const values = (count: number) => even(count).map((t) => 0.3 * t + (t >= 5 ? 2 : 0) + 0.1 * ((t * 7) % 3));
    for (const count of [11, 12]) {
      const [residuals] = stepResiduals(
        { timesS: even(count), values: values(count) },
        { ...search, firstS: 4.5, count: 1 },
      );
      const step = even(count).map((t) => (t >= 4.5 ? 1 : 0));
      const columns = [even(count).map(() => 1), ...(count >= 12 ? [even(count)] : []), step].map((column) => [
        ...column,
      ]);
      expect(residuals![0]).toBeCloseTo(leastSquares([...values(count)], columns), 9);
    }
  });

  it("sees the step through each lag", () => {
    const timesS = even(14, 0.5);
    const values = timesS.map((t) => (t < 3 ? 0 : 2 * (1 - Math.exp(-(t - 3) / 0.8))));
    const lags = stepResiduals({ timesS, values }, { ...search, firstS: 3, stepS: 0.5, count: 2, lagsS: [0, 0.8] });
    expect(lags).toHaveLength(2);
    expect(lags[1]![0]).toBeCloseTo(0, 12);
    expect(lags[0]![0]).toBeGreaterThan(0.1);
    expect(lags[1]![1]).toBeGreaterThan(0.1);
  });

  it("explains nothing by a step outside the window", () => {
    const [residuals] = stepResiduals({ timesS: even(8), values: few }, { ...search, firstS: -3, stepS: 20, count: 2 });
    const total = leastSquares([...few], [new Array(8).fill(1)]);
    expect(residuals![0]).toBeCloseTo(total, 12);
    expect(residuals![1]).toBeCloseTo(total, 12);
  });

  it("whitens readings and model alike where neighbours are correlated, by the power of their distance", () => {
    const timesS = Float64Array.of(0, 1, 2, 4, 5, 6, 7, 9);
    const [residuals] = stepResiduals(
      { timesS, values: few },
      { ...search, firstS: 3, count: 1, correlation: 0.6, intervalS: 1 },
    );
    const whiten = (series: readonly number[]) =>
      series.map((v, i) => {
        if (i === 0) return v;
        const kept = 0.6 ** (timesS[i]! - timesS[i - 1]!);
        return (v - kept * series[i - 1]!) / Math.sqrt(1 - kept * kept);
      });
    const step = [...timesS].map((t) => (t >= 3 ? 1 : 0));
    const expected = leastSquares(whiten([...few]), [whiten(new Array(8).fill(1)), whiten(step)]);
    expect(residuals![0]).toBeCloseTo(expected, 9);
  });
});
