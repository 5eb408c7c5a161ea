import { describe, expect, it } from "vitest";
import {
  choleskyInPlace,
  forwardSubstitute,
  inverseFromCholesky,
  logDeterminantOfCholesky,
  pivotedCholesky,
  solveCholesky,
} from "../../../src/core/statistics/cholesky.js";
import {
  applyQ,
  applyTransposed,
  factorize,
  independence,
  inverseOfGram,
  solveUpper,
  solveUpperTransposed,
} from "../../../src/core/statistics/householder.js";
import { linearFit, polynomialFit } from "../../../src/core/statistics/linear-regression.js";
import { mixtureMoments, mixtureQuantile } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const close = (values: Iterable<number>, digits = 9) => Array.from(values, (v) => expect.closeTo(v, digits));

describe("Cholesky factors", () => {
  // [[4, 2, -2], [2, 10, 2], [-2, 2, 6]] = L L' with L = [[2], [1, 3], [-1, 1, 2]].
  const matrix = () => Float64Array.of(4, 2, -2, 2, 10, 2, -2, 2, 6);
  const factor = matrix();
  const done = choleskyInPlace(factor, 3);

  it("are those that multiply to the matrix", () => {
    expect(done).toBe(true);
    expect([factor[0], factor[3], factor[4], factor[6], factor[7], factor[8]]).toEqual([2, 1, 3, -1, 1, 2]);
    expect(logDeterminantOfCholesky(factor, 3)).toBeCloseTo(Math.log(144), 12);
  });

  it("solve equations forward and whole, and invert", () => {
    expect(Array.from(forwardSubstitute(factor, 3, Float64Array.of(2, 7, 4)))).toEqual(close([1, 2, 1.5]));
    // A (1, -1, 2) = (-2, -4, 8).
    expect(Array.from(solveCholesky(factor, 3, Float64Array.of(-2, -4, 8)))).toEqual(close([1, -1, 2]));
    const inverse = inverseFromCholesky(factor, 3);
    const a = matrix();
    for (let r = 0; r < 3; r++) {
      for (let c = 0; c < 3; c++) {
        const sum = [0, 1, 2].reduce((total, k) => total + a[3 * r + k]! * inverse[3 * k + c]!, 0);
        expect(sum).toBeCloseTo(r === c ? 1 : 0, 12);
      }
    }
  });

  it("refuse a matrix that is not positive definite, be it by rounding alone", () => {
    expect(choleskyInPlace(Float64Array.of(1, 2, 2, 1), 2)).toBe(false);
    expect(choleskyInPlace(Float64Array.of(1, 1, 1, 1), 2)).toBe(false);
    expect(choleskyInPlace(Float64Array.of(0), 1)).toBe(false);
    expect(choleskyInPlace(Float64Array.of(Number.NaN), 1)).toBe(false);
    expect(choleskyInPlace(Float64Array.of(1, 1, 1, 1 + 1e-12), 2)).toBe(true);
  });

  it("of low rank stop where no more than the tolerance is left, largest diagonal first", () => {
    // Two directions: (1, 2, 3) and (0, 1, -1).
    const columns = [
      [1, 2, 3],
      [0, 1, -1],
    ];
    const product = Float64Array.from({ length: 9 }, (_, k) =>
      columns.reduce((sum, column) => sum + column[Math.floor(k / 3)]! * column[k % 3]!, 0),
    );
    const { factor: low, rank } = pivotedCholesky(product, 3, 1e-9);
    expect(rank).toBe(2);
    for (let r = 0; r < 3; r++) {
      for (let c = 0; c < 3; c++) {
        expect([0, 1].reduce((sum, k) => sum + low[2 * r + k]! * low[2 * c + k]!, 0)).toBeCloseTo(
          product[3 * r + c]!,
          12,
        );
      }
    }
    // The largest diagonal is the third: 10.
    expect(low[4]).toBeCloseTo(Math.sqrt(10), 12);
    expect(pivotedCholesky(Float64Array.of(2, 0, 0, 1e-5), 2, 1e-4).rank).toBe(1);
    expect(pivotedCholesky(Float64Array.of(2, 0, 0, 1e-5), 2, 1e-5).rank).toBe(1);
    expect(pivotedCholesky(Float64Array.of(2, 0, 0, 1e-5), 2, 1e-6).rank).toBe(2);
    expect(pivotedCholesky(new Float64Array(4), 2, 1e-6).rank).toBe(0);
  });
});

describe("Householder factors", () => {
  const random = randomGenerator(2);
  const [rows, columns] = [7, 3];
  const a = Float64Array.from({ length: rows * columns }, () => random.normal());
  const factors = factorize(Float64Array.from(a), rows, columns);
  const upper = (i: number, j: number) =>
    i > j ? 0 : i === j ? factors.diagonal[i]! : factors.packed[i * columns + j]!;

  it("turn the matrix into its triangle and back", () => {
    for (let j = 0; j < columns; j++) {
      const column = Float64Array.from({ length: rows }, (_, i) => a[i * columns + j]!);
      const turned = Float64Array.from(column);
      applyTransposed(factors, turned);
      for (let i = 0; i < rows; i++) expect(turned[i]).toBeCloseTo(i < columns ? upper(i, j) : 0, 12);
      applyQ(factors, turned);
      expect(Array.from(turned)).toEqual(close(column, 12));
    }
  });

  it("keep lengths", () => {
    const y = Float64Array.from({ length: rows }, () => random.normal());
    const before = Math.hypot(...y);
    applyTransposed(factors, y);
    expect(Math.hypot(...y)).toBeCloseTo(before, 12);
  });

  it("solve both triangles, and give the inverse of the products", () => {
    const b = Float64Array.of(1, -2, 0.5);
    const x = solveUpper(factors, b);
    const z = solveUpperTransposed(factors, b);
    for (let i = 0; i < columns; i++) {
      expect([0, 1, 2].reduce((sum, k) => sum + upper(i, k) * x[k]!, 0)).toBeCloseTo(b[i]!, 12);
      expect([0, 1, 2].reduce((sum, k) => sum + upper(k, i) * z[k]!, 0)).toBeCloseTo(b[i]!, 12);
    }
    const inverse = inverseOfGram(factors);
    for (let r = 0; r < columns; r++) {
      for (let c = 0; c < columns; c++) {
        let sum = 0;
        for (let k = 0; k < columns; k++) {
          const gram = Array.from({ length: rows }, (_, i) => a[i * columns + r]! * a[i * columns + k]!).reduce(
            (x1, y1) => x1 + y1,
            0,
          );
          sum += gram * inverse[k * columns + c]!;
        }
        expect(sum).toBeCloseTo(r === c ? 1 : 0, 10);
      }
    }
  });

  it("tell how far each column stands from those before it", () => {
    expect(independence(factorize(Float64Array.of(1, 0, 0, 1), 2, 2))).toBeCloseTo(1, 12);
    // (1, 0) and (1, 1): the sine of 45 degrees.
    expect(independence(factorize(Float64Array.of(1, 1, 0, 1), 2, 2))).toBeCloseTo(Math.SQRT1_2, 12);
    expect(independence(factorize(Float64Array.of(1, 2, 1, 2), 2, 2))).toBeCloseTo(0, 12);
    expect(independence(factorize(Float64Array.of(1, 0, 1, 0), 2, 2))).toBe(0);
  });

  it("stand numbers whose squares overflow", () => {
    const large = factorize(Float64Array.of(3e200, 4e200), 2, 1);
    expect(Math.abs(large.diagonal[0]!) / 5e200).toBeCloseTo(1, 12);
  });
});

describe("linearFit() by hand", () => {
  it("of four points to a line: coefficients, errors, residuals", () => {
    // y = 1, 3, 2, 5 at x = 0..3: slope 1.1, level 1.1; residuals -0.1, 0.8, -1.3, 0.6.
    const { coefficients, residuals, residualSquares, residualDeviation, dof, standardErrors, covariance } =
      polynomialFit(Float64Array.of(0, 1, 2, 3), Float64Array.of(1, 3, 2, 5));
    expect(Array.from(coefficients)).toEqual(close([1.1, 1.1]));
    expect(Array.from(residuals)).toEqual(close([-0.1, 0.8, -1.3, 0.6]));
    expect(residualSquares).toBeCloseTo(2.7, 12);
    expect(dof).toBe(2);
    expect(residualDeviation).toBeCloseTo(Math.sqrt(1.35), 12);
    // s^2 / Sxx = 1.35 / 5; s^2 (1/4 + 1.5^2 / 5); covariance -1.5 s^2 / 5.
    expect(standardErrors[1]).toBeCloseTo(Math.sqrt(0.27), 12);
    expect(standardErrors[0]).toBeCloseTo(Math.sqrt(1.35 * 0.7), 12);
    expect(covariance[1]).toBeCloseTo(-1.5 * 0.27, 12);
    expect(covariance[2]).toBeCloseTo(-1.5 * 0.27, 12);
  });

  it("weights, absolute ones and a line through nothing", () => {
    const absolute = linearFit(Float64Array.of(1, 1), Float64Array.of(2, 6), {
      weights: Float64Array.of(3, 1),
      absolute: true,
    });
    expect(absolute.coefficients[0]).toBeCloseTo(3, 12);
    expect(absolute.standardErrors[0]).toBeCloseTo(0.5, 12);
    expect(Array.from(absolute.residuals)).toEqual(close([-1, 3]));
    const through = polynomialFit(Float64Array.of(1, 2), Float64Array.of(3, 4), { intercept: false });
    expect(Array.from(through.coefficients)).toEqual(close([11 / 5]));
    const curve = polynomialFit(Float64Array.of(0, 1, 2, 3), Float64Array.of(1, 2, 5, 10), { degree: 2 });
    expect(Array.from(curve.coefficients)).toEqual(close([1, 0, 1]));
    // A weight of nothing leaves its residual untold.
    const none = linearFit(Float64Array.of(1, 1, 1), Float64Array.of(2, 4, 9), { weights: Float64Array.of(1, 1, 0) });
    expect(none.coefficients[0]).toBeCloseTo(3, 12);
    expect(none.residuals[2]).toBeNaN();
  });
});

describe("normal mixtures", () => {
  const mixture = { means: Float64Array.of(0, 4), sds: Float64Array.of(1, 2), weights: Float64Array.of(3, 1) };

  it("mixtureMoments() are those of the parts: mean 1, variance 0.75 (1 + 1) + 0.25 (4 + 9)", () => {
    expect(mixtureMoments(mixture).mean).toBeCloseTo(1, 12);
    expect(mixtureMoments(mixture).sd).toBeCloseTo(Math.sqrt(4.75), 12);
  });

  it("mixtureQuantile() is where the weighted normal distributions reach the probability", () => {
    const single = { means: Float64Array.of(5), sds: Float64Array.of(2), weights: Float64Array.of(7) };
    expect(mixtureQuantile(single, 0.975)).toBeCloseTo(5 + 2 * 1.959964, 4);
    expect(mixtureQuantile(single, 0.5)).toBeCloseTo(5, 4);
    // Symmetric about 2 with equal parts.
    const even = { means: Float64Array.of(0, 4), sds: Float64Array.of(1, 1), weights: Float64Array.of(1, 1) };
    expect(mixtureQuantile(even, 0.5)).toBeCloseTo(2, 4);
    // At 0.75 x 0.5 + 0.25 x 0.02275 = 0.38069: normal tables at 0 and -2.
    expect(mixtureQuantile(mixture, 0.380687)).toBeCloseTo(0, 4);
  });
});
