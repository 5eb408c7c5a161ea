// NIST Statistical Reference Datasets, nonlinear regression, all 27 sets, both starts: certified estimates to six digits
// and their standard deviations to four, or an admitted failure from start 1, but never a wrong answer.
import { readdirSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { nonlinearLeastSquares } from "../../src/core/estimation/nonlinear-least-squares.js";
import { variableProjection } from "../../src/core/estimation/variable-projection.js";
import { dataText, matchingDigits } from "./data-files.js";
import { linearParameters, type Model, models } from "./nist-nonlinear-models.js";

interface Certified {
  readonly starts: readonly [Float64Array, Float64Array];
  readonly estimates: Float64Array;
  readonly deviations: Float64Array;
  readonly y: Float64Array;
  readonly x: Float64Array;
  readonly x2: Float64Array;
}

function certified(name: string): Certified {
  const lines = dataText(`nist/nonlinear/${name}.dat`).split(/\r?\n/);
  const table = lines
    .map((line) => /^\s*b\d+\s*=\s*(.*)$/.exec(line)?.[1])
    .filter((cells) => cells !== undefined)
    .map((cells) => cells.trim().split(/\s+/).map(Number));
  const rows = lines
    .slice(60)
    .filter((line) => line.trim() !== "")
    .map((line) => line.trim().split(/\s+/).map(Number));
  const column = (k: number) => Float64Array.from(table, (row) => row[k]);
  return {
    starts: [column(0), column(1)],
    estimates: column(2),
    deviations: column(3),
    y: Float64Array.from(rows, ([y]) => (name === "Nelson" ? Math.log(y) : y)),
    x: Float64Array.from(rows, ([, x]) => x),
    x2: Float64Array.from(rows, (row) => row[2] ?? 0),
  };
}

const names = readdirSync(new URL("data/nist/nonlinear", import.meta.url))
  .map((file) => file.replace(".dat", ""))
  .sort();

function fitAll(model: Model, data: Certified, start: Float64Array) {
  return nonlinearLeastSquares({
    start,
    residualCount: data.y.length,
    residuals: (b, out) => {
      for (let i = 0; i < out.length; i++) out[i] = data.y[i] - model(b, data.x[i], data.x2[i]);
    },
  });
}

/** Parameters in the order of the file, from the shape parameters alone. */
function fitShape(name: string, data: Certified, start: Float64Array) {
  const linear = linearParameters[name];
  const count = start.length;
  const shapes = Array.from({ length: count }, (_, j) => j).filter((j) => !linear.includes(j));
  const fit = variableProjection({
    y: data.y,
    columnCount: linear.length,
    start: Float64Array.from(shapes, (j) => start[j]),
    columns: (shape, out) => {
      const b = new Float64Array(count);
      shapes.forEach((j, k) => {
        b[j] = shape[k];
      });
      linear.forEach((j, column) => {
        b[j] = 1;
        for (let i = 0; i < data.y.length; i++) {
          out[i * linear.length + column] = models[name](b, data.x[i], data.x2[i]);
        }
        b[j] = 0;
      });
    },
  });
  if (!fit.converged) return fit;
  const order = [...linear, ...shapes];
  const values = [...fit.coefficients, ...fit.shape];
  const place = Array.from({ length: count }, (_, j) => order.indexOf(j));
  return {
    converged: true as const,
    parameters: Float64Array.from(place, (k) => values[k]),
    standardErrors: Float64Array.from(place, (k) => fit.standardErrors[k]),
  };
}

function fewestDigits(got: Float64Array, want: Float64Array): number {
  return Math.min(...Array.from(got, (value, j) => matchingDigits(value, want[j])));
}

/** Sum of two decays is the same with its terms exchanged; the file has the slower one first. */
function inOrder(name: string, values: Float64Array, rates: Float64Array): Float64Array {
  if (name !== "MGH17" || rates[3] < rates[4]) return values;
  return Float64Array.of(values[0], values[2], values[1], values[4], values[3]);
}

type Fit = ReturnType<typeof fitShape> | ReturnType<typeof fitAll>;

function expectCertified(name: string, fit: Fit, data: Certified): void {
  if (!fit.converged) throw new Error(`did not converge: ${fit.why}`);
  const estimates = inOrder(name, fit.parameters, fit.parameters);
  expect(fewestDigits(estimates, data.estimates)).toBeGreaterThanOrEqual(6);
  // The residuals of Lanczos1 are rounding errors of 1e-13, and its deviations with them.
  if (name === "Lanczos1") return;
  const deviations = inOrder(name, fit.standardErrors, fit.parameters);
  expect(fewestDigits(deviations, data.deviations)).toBeGreaterThanOrEqual(4);
}

describe("NIST StRD nonlinear", () => {
  it("all 27 sets are here, 24 of them separable", () => {
    expect(names).toEqual(Object.keys(models).sort());
    expect(names.length).toBe(27);
    expect(Object.keys(linearParameters).length).toBe(24);
  });

  it.each(names)("nonlinearLeastSquares() from start 2 gives the certified values of %s", (name) => {
    const data = certified(name);
    expectCertified(name, fitAll(models[name], data, data.starts[1]), data);
  });

  it.each(names)("nonlinearLeastSquares() from the far start 1 gives them too for %s, or admits failure", (name) => {
    const data = certified(name);
    const fit = fitAll(models[name], data, data.starts[0]);
    if (fit.converged) expectCertified(name, fit, data);
    else expect(["BoxBOD", "MGH17"]).toContain(name);
  });

  it.each(names.filter((name) => name in linearParameters))(
    "variableProjection() gives the certified values of %s from both starts, or admits failure from start 1",
    (name) => {
      const data = certified(name);
      expectCertified(name, fitShape(name, data, data.starts[1]), data);
      const far = fitShape(name, data, data.starts[0]);
      if (far.converged) expectCertified(name, far, data);
      else expect(name).toBe("MGH10");
    },
  );
});
