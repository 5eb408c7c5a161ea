import { describe, expect, it } from "vitest";
import { dampedStep, scaledNorm } from "../../../src/core/estimation/damped-step.js";
import { type NonlinearProblem, nonlinearLeastSquares } from "../../../src/core/estimation/nonlinear-least-squares.js";
import { applyTransposed, factorize } from "../../../src/core/statistics/householder.js";

/** A test problem with its derivatives, row by row. */
interface Plain {
  readonly residuals: (x: readonly number[]) => readonly number[];
  readonly derivatives: (x: readonly number[]) => readonly (readonly number[])[];
  readonly start: readonly number[];
}

const times = Array.from({ length: 12 }, (_, k) => 0.5 * (k + 1));
const decay = times.map((t, k) => 3 * Math.exp(-0.7 * t) + 1 + 0.05 * Math.sin(9 * k));

/** Functions of More, Garbow and Hillstrom 1981, ACM Transactions on Mathematical Software 7 (from memory), and a decay. */
const FUNCTIONS: Readonly<Record<string, Plain>> = {
  Rosenbrock: {
    residuals: ([x, y]) => [10 * (y! - x! * x!), 1 - x!],
    derivatives: ([x]) => [
      [-20 * x!, 10],
      [-1, 0],
    ],
    start: [-1.2, 1],
  },
  "Freudenstein and Roth": {
    residuals: ([x, y]) => [-13 + x! + ((5 - y!) * y! - 2) * y!, -29 + x! + ((y! + 1) * y! - 14) * y!],
    derivatives: ([, y]) => [
      [1, 10 * y! - 3 * y! * y! - 2],
      [1, 3 * y! * y! + 2 * y! - 14],
    ],
    start: [0.5, -2],
  },
  "Powell, singular": {
    residuals: ([a, b, c, d]) => [
      a! + 10 * b!,
      Math.sqrt(5) * (c! - d!),
      (b! - 2 * c!) ** 2,
      Math.sqrt(10) * (a! - d!) ** 2,
    ],
    derivatives: ([a, b, c, d]) => [
      [1, 10, 0, 0],
      [0, 0, Math.sqrt(5), -Math.sqrt(5)],
      [0, 2 * (b! - 2 * c!), -4 * (b! - 2 * c!), 0],
      [2 * Math.sqrt(10) * (a! - d!), 0, 0, -2 * Math.sqrt(10) * (a! - d!)],
    ],
    start: [3, -1, 0, 1],
  },
  "Beale, badly scaled": {
    residuals: ([x, y]) => [1.5, 2.25, 2.625].map((c, k) => 1000 * (c - x! * (1 - (y! / 1000) ** (k + 1)))),
    derivatives: ([x, y]) => [1, 2, 3].map((k) => [-1000 * (1 - (y! / 1000) ** k), x! * k * (y! / 1000) ** (k - 1)]),
    start: [1, 1000],
  },
  "a decay to a level": {
    residuals: ([a, rate, c]) => times.map((t, k) => decay[k]! - a! * Math.exp(-rate! * t) - c!),
    derivatives: ([a, rate]) => times.map((t) => [-Math.exp(-rate! * t), a! * t * Math.exp(-rate! * t), -1]),
    start: [1, 0.1, 0],
  },
};

const dot = (a: ArrayLike<number>, b: ArrayLike<number>) => Array.from(a).reduce((sum, v, k) => sum + v * b[k]!, 0);

/** Points that the method tries, by its rules; those of the last steps, which rounding decides, are left out. */
function byHand({ residuals, derivatives, start }: Plain): number[][] {
  let x = [...start];
  let scales = start.map(() => 0);
  const lengths = (rows: readonly (readonly number[])[]) =>
    start.map((_, j) => Math.sqrt(rows.reduce((sum, row) => sum + row[j]! ** 2, 0)));
  const grown = () => lengths(derivatives(x)).map((length, j) => Math.max(scales[j]!, length) || 1);
  scales = grown();
  let radius = 100 * (Math.hypot(...x.map((value, j) => value * scales[j]!)) || 1);
  const tried: number[][] = [];
  for (let round = 0; round < 60; round++) {
    const f = residuals(x);
    const rows = derivatives(x);
    const squares = dot(f, f);
    if (squares < 1e-20) return tried;
    const factors = factorize(Float64Array.from(rows.flat()), f.length, x.length);
    const rotated = Float64Array.from(f);
    applyTransposed(factors, rotated);
    const { step, damping } = dampedStep(factors, rotated, Float64Array.from(scales), radius);
    const length = scaledNorm(step, Float64Array.from(scales));
    const trial = x.map((value, j) => value + step[j]!);
    const after = dot(residuals(trial), residuals(trial));
    const along = rows.map((row) => dot(row, step));
    // Decrease of |f + J s|^2 with the damping's share: |J s|^2 + 2 lambda |D s|^2, by the normal equations.
    const predicted = (dot(along, along) + 2 * damping * length ** 2) / squares;
    if (predicted < 1e-9) return tried;
    tried.push(trial);
    const isFar = Math.sqrt(after) >= 10 * Math.sqrt(squares) || Number.isNaN(after);
    const reduction = isFar ? -1 : 1 - after / squares;
    const gain = reduction / predicted;
    if (gain <= 0.25) {
      // Minimum of the parabola through value and slope here and value there, between a tenth and a half.
      const slope = -(dot(along, along) + damping * length ** 2) / squares;
      const parabola = slope / (2 * slope + reduction);
      radius = (isFar ? 0.1 : reduction >= 0 ? 0.5 : Math.max(0.1, parabola)) * Math.min(radius, 10 * length);
    } else if (damping === 0 || gain >= 0.75) radius = 2 * length;
    if (gain >= 1e-4) {
      x = trial;
      scales = grown();
    }
  }
  return tried;
}

/** Points at which the residuals were asked for after the start. */
function pathOf({ residuals, derivatives, start }: Plain): number[][] {
  const points: number[][] = [];
  const problem: NonlinearProblem = {
    start: Float64Array.from(start),
    residualCount: residuals(start).length,
    residuals: (parameters, out) => {
      points.push(Array.from(parameters));
      out.set(residuals(Array.from(parameters)));
    },
    jacobian: (parameters, out) => out.set(derivatives(Array.from(parameters)).flat()),
  };
  nonlinearLeastSquares(problem);
  return points.slice(1);
}

describe("nonlinearLeastSquares() goes the way of its rules", () => {
  const cases = Object.entries(FUNCTIONS).flatMap(([name, plain]) =>
    [1, 10, 100].map((times) => ({ name: `${name}, start x ${times}`, plain, times })),
  );
  it.each(cases)("$name", ({ plain, times: far }) => {
    const moved = { ...plain, start: plain.start.map((value) => far * value) };
    const hand = byHand(moved);
    const path = pathOf(moved);
    expect(hand.length).toBeGreaterThan(3);
    hand.forEach((point, k) => {
      point.forEach((value, j) => {
        expect(Math.abs(path[k]![j]! - value), `trial ${k}`).toBeLessThan(1e-6 * (1e-3 + Math.abs(value)));
      });
    });
  });
});
