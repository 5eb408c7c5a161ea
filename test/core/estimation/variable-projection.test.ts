import { describe, expect, it } from "vitest";
import { variableProjection } from "../../../src/core/estimation/variable-projection.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { invert } from "../../oracles/dense-noise.js";

const random = randomGenerator(9);
const x = Array.from({ length: 80 }, (_, i) => 0.1 * i);
const model = ([level, fast, slow]: readonly number[], [fastS, slowS]: readonly number[], t: number) =>
  level! + fast! * Math.exp(-t / fastS!) + slow! * Math.exp(-t / slowS!);
const noise = x.map(() => random.normal());
const weights = Float64Array.from(x, (t) => 1 + 0.5 * Math.sin(3 * t));
const y = Float64Array.from(x, (t, i) => model([5, 2, -3], [0.5, 3], t) + (0.01 * noise[i]!) / Math.sqrt(weights[i]!));

const columns = (shape: Float64Array, out: Float64Array) => {
  x.forEach((t, i) => {
    out.set([1, Math.exp(-t / shape[0]!), Math.exp(-t / shape[1]!)], 3 * i);
  });
};
const fitted = (told: { weights?: Float64Array; unit?: number; mostSteps?: number } = {}, absolute = false) => {
  const { unit = 1, mostSteps, ...rest } = told;
  return variableProjection(
    { y: y.map((v) => unit * v), columnCount: 3, columns, start: Float64Array.of(0.8, 2), ...rest },
    { absolute, ...(mostSteps === undefined ? {} : { mostSteps }) },
  );
};
const known = (...told: Parameters<typeof fitted>) => {
  const found = fitted(...told);
  if (!found.converged) throw new Error(found.why);
  return found;
};

describe("variableProjection()", () => {
  it.each([
    ["equal weights", undefined],
    ["weights of their own", weights],
  ])("ends where no coefficient and no shape parameter betters the sum of squares, with %s", (_, own) => {
    const { shape, coefficients, covariance, standardErrors, residualSquares, residualDeviation } = known(
      own === undefined ? {} : { weights: own },
    );
    const all = [...coefficients, ...shape];
    const squares = (parameters: readonly number[]) =>
      x.reduce((sum, t, i) => {
        const left = y[i]! - model(parameters.slice(0, 3), parameters.slice(3), t);
        return sum + (own?.[i] ?? 1) * left * left;
      }, 0);
    expect(residualSquares / squares(all)).toBeCloseTo(1, 9);
    expect(residualDeviation).toBeCloseTo(Math.sqrt(residualSquares / (80 - 5)), 12);
    // Derivatives of the model by its formula; at the best point their products with what is left are nothing.
    const slopes = x.map((t) => [
      1,
      Math.exp(-t / shape[0]!),
      Math.exp(-t / shape[1]!),
      (coefficients[1]! * t * Math.exp(-t / shape[0]!)) / shape[0]! ** 2,
      (coefficients[2]! * t * Math.exp(-t / shape[1]!)) / shape[1]! ** 2,
    ]);
    const gram = all.map((_a, a) =>
      all.map((_b, b) => slopes.reduce((sum, row, i) => sum + (own?.[i] ?? 1) * row[a]! * row[b]!, 0)),
    );
    for (let a = 0; a < 5; a++) {
      const slope = x.reduce((sum, t, i) => {
        return sum + (own?.[i] ?? 1) * slopes[i]![a]! * (y[i]! - model([...coefficients], [...shape], t));
      }, 0);
      expect(Math.abs(slope) / Math.sqrt(gram[a]![a]! * residualSquares)).toBeLessThan(1e-6);
    }
    const { inverse } = invert(gram);
    for (let a = 0; a < 5; a++) {
      const u = residualDeviation * Math.sqrt(inverse[a]![a]!);
      expect(standardErrors[a]! / u).toBeCloseTo(1, 5);
      for (let b = 0; b < 5; b++) {
        const scale = residualDeviation ** 2 * Math.sqrt(inverse[a]![a]! * inverse[b]![b]!);
        expect(covariance[5 * a + b]! / scale).toBeCloseTo((residualDeviation ** 2 * inverse[a]![b]!) / scale, 4);
      }
      // The truth lies within five of these.
      expect(Math.abs(all[a]! - [5, 2, -3, 0.5, 3][a]!)).toBeLessThan(5 * u);
    }
  });

  it("takes weights for the inverse variances themselves where it is told to", () => {
    const [relative, absolute] = [known({ weights }), known({ weights }, true)];
    for (let k = 0; k < 25; k++) {
      expect(absolute.covariance[k]! * relative.residualDeviation ** 2).toBeCloseTo(relative.covariance[k]!, 12);
    }
    expect(absolute.residualDeviation).toBe(relative.residualDeviation);
  });

  it("gives coefficients and errors in the unit of the readings, and the same shape in any", () => {
    const [plain, scaled] = [known({ weights }), known({ weights, unit: 1024 })];
    for (const k of [0, 1]) expect(scaled.shape[k]! / plain.shape[k]!).toBeCloseTo(1, 8);
    for (const k of [0, 1, 2]) {
      expect(scaled.coefficients[k]! / plain.coefficients[k]!).toBeCloseTo(1024, 4);
      expect(scaled.standardErrors[k]! / plain.standardErrors[k]!).toBeCloseTo(1024, 3);
    }
    expect(scaled.standardErrors[3]! / plain.standardErrors[3]!).toBeCloseTo(1, 6);
  });

  it("needs few steps, by the true derivative of what is left, and says when it has none left", () => {
    expect(fitted({ mostSteps: 12 }).converged).toBe(true);
    expect(fitted({ mostSteps: 1 }).converged).toBe(false);
  });

  it("refuses a shape parameter that the readings do not show", () => {
    const flat = variableProjection({
      y,
      columnCount: 1,
      columns: (_, out) => out.fill(1),
      start: Float64Array.of(2),
    });
    expect(flat.converged).toBe(false);
  });
});
