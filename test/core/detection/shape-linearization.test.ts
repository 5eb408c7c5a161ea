import { describe, expect, it } from "vitest";
import {
  costOf,
  linearized,
  type RefinementProblem,
  shapeCount,
  shapeOf,
  shapePriors,
  startParameters,
  timesOf,
} from "../../../src/core/detection/shape-linearization.js";
import { refineDepth } from "../../../src/core/detection/shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import { denseCovariance, generalizedLeastSquares, invert } from "../../oracles/dense-noise.js";

const noise = { whiteV: 0.01, colouredV: 0.008, colouredTimeS: 0.8, walkVPerSqrtS: 0.002, bendVPerS15: 1e-5 };
const truth: DipShape = { shiftS: 0, lagS: 0.4, inrush: 0.6, settleS: 2, polarization: 0.25, polarizationS: 12 };
const onTimes: readonly OnTime[] = [
  { onsetS: 8, releaseS: 13 },
  { onsetS: 20, releaseS: 26 },
];
const timesS = Float64Array.from({ length: 90 }, (_, i) => 0.4 * i);
const counts = new Float64Array(timesS.length).fill(1);

/** Constant, line and readings of a level with dips of the truth, each edge moved as told, and an unrest. */
function problemOf(
  changed: Partial<RefinementProblem> = {},
  movedS = [0, 0, 0, 0],
  depthV = 0.2,
  unrestV = 0,
): RefinementProblem {
  const real = onTimes.map(({ onsetS, releaseS }, k) => ({
    onsetS: onsetS + movedS[2 * k]!,
    releaseS: releaseS + movedS[2 * k + 1]!,
  }));
  const dip = dipTemplate(timesS, 0, real, truth);
  const columns = new Float64Array(3 * timesS.length);
  timesS.forEach((t, i) => {
    columns.set([1, (t - 18) / 18, 0.3 + 0.01 * t + depthV * dip[i]! + unrestV * (((i * 7) % 5) - 2)], 3 * i);
  });
  return {
    sampled: { timesS, readingCounts: counts, noiseFactors: null } as RefinementProblem["sampled"],
    blockS: 0,
    columns,
    columnCount: 3,
    noise,
    onTimes,
    kind: "heater",
    meter: undefined,
    timeUncertaintyS: 0.3,
    ...changed,
  };
}

describe("shapePriors()", () => {
  it("holds times by their uncertainty, and a lag of the profile to a fifth", () => {
    const priors = shapePriors(problemOf());
    expect(priors).toHaveLength(5 + 4);
    for (const prior of priors.slice(5)) expect(prior).toEqual({ mean: 0, sd: 0.3 });
    const [lag] = shapePriors(problemOf({ meter: { lagS: 0.5 } }));
    expect(lag!.mean).toBeCloseTo(Math.log(0.5), 12);
    expect(lag!.sd).toBe(0.2);
    expect(shapePriors(problemOf({ meter: { lagS: 0 } }))[0]!.mean).toBeCloseTo(Math.log(0.01), 12);
    // The docstring's: about 0.35 s within a factor of two, 0.3 of polarisation.
    expect(priors[0]!.mean).toBeCloseTo(Math.log(0.35), 12);
    expect(priors[0]!.sd).toBeCloseTo(Math.log(2), 1);
    expect(priors[1]!.mean).toBeCloseTo(Math.log(2.5), 12);
    expect(priors[2]!.mean).toBeCloseTo(Math.log(15), 12);
    expect(priors[4]!.mean).toBe(0.3);
  });

  it("lets heaters and loads of unknown kind settle, and no other", () => {
    const inrush = (kind: RefinementProblem["kind"]) => shapePriors(problemOf({ kind }))[3]!;
    expect(inrush(null)).toEqual(inrush("heater"));
    expect(inrush("heater").mean).toBeGreaterThan(0.3);
    expect(inrush("resistive").mean).toBe(0);
    expect(inrush("resistive").sd).toBeLessThan(0.05);
  });

  it("of a needle that swings is that of the same lag: twice its damping over its natural frequency", () => {
    const [lag] = shapePriors(problemOf({ meter: { lagS: 0.5 }, swings: true }));
    expect(lag!.mean).toBeCloseTo(Math.log(0.5 / 1.3), 12);
    expect(shapePriors(problemOf({ swings: true }))[0]!.mean).toBeCloseTo(Math.log(0.35 / 1.3), 12);
  });
});

describe("startParameters(), shapeOf() and timesOf()", () => {
  it("stand for the shape, its shift in every switching time", () => {
    const parameters = startParameters(problemOf(), { ...truth, shiftS: 0.1 });
    const shape = shapeOf(parameters, false);
    for (const key of Object.keys(truth) as (keyof typeof truth)[])
      expect(shape[key]!, key).toBeCloseTo(truth[key]!, 12);
    expect("dampingRatio" in shape).toBe(false);
    const swinging = startParameters(problemOf({ swings: true }), { ...truth, dampingRatio: 0.6 });
    expect(shapeOf(swinging, true).dampingRatio).toBe(0.6);
    expect(swinging).toHaveLength(parameters.length + 1);
    expect(timesOf(problemOf(), parameters)).toEqual(
      onTimes.map(({ onsetS, releaseS }) => ({ onsetS: onsetS + 0.1, releaseS: releaseS + 0.1 })),
    );
    expect(shapeOf(startParameters(problemOf(), { ...truth, lagS: 0 }), false).lagS).toBeCloseTo(0.02, 12);
  });

  it("start every switching at the time of an earlier fit", () => {
    const earlier = onTimes.map(({ onsetS, releaseS }) => ({ onsetS: onsetS - 0.3, releaseS: releaseS + 0.2 }));
    const found = timesOf(problemOf(), startParameters(problemOf(), { ...truth, shiftS: 0.1 }, earlier));
    found.forEach(({ onsetS, releaseS }, k) => {
      expect(onsetS).toBeCloseTo(earlier[k]!.onsetS, 12);
      expect(releaseS).toBeCloseTo(earlier[k]!.releaseS, 12);
    });
  });

  it("hold the damping ratio of a swing between 0.15 and 0.97, and start it at 0.65 where none is known", () => {
    const problem = problemOf({ swings: true });
    const parameters = startParameters(problem, truth);
    expect(parameters[5]).toBe(0.65);
    for (const [ratio, held] of [
      [0.1, 0.15],
      [0.16, 0.16],
      [0.96, 0.96],
      [1.2, 0.97],
    ]) {
      parameters[5] = ratio!;
      expect(shapeOf(parameters, true).dampingRatio).toBe(held);
    }
    const priors = shapePriors(problem);
    expect(priors).toHaveLength(6 + 4);
    expect(priors[5]!.mean).toBe(0.65);
    // The times follow the shape, of a swing too.
    const late = startParameters(problem, { ...truth, shiftS: 0.1, dampingRatio: 0.5 });
    expect([...late.subarray(5)]).toEqual([0.5, 0.1, 0.1, 0.1, 0.1]);
    expect(timesOf(problem, late)[1]!.releaseS).toBeCloseTo(26.1, 12);
  });

  it("never put a release before its onset", () => {
    const parameters = startParameters(problemOf(), truth);
    parameters[shapeCount(problemOf())] = 9;
    const [first] = timesOf(problemOf(), parameters);
    expect(first!.onsetS).toBe(17);
    expect(first!.releaseS).toBeGreaterThan(17);
    expect(first!.releaseS).toBeLessThan(17.1);
  });
});

describe("linearized()", () => {
  const problem = problemOf({}, [0.1, -0.05, 0.08, 0], 0.2, 0.004);
  const priors = shapePriors(problem);
  const parameters = startParameters(problem, truth);
  const found = linearized(problem, priors, parameters, 0.19);
  const y = Array.from(timesS, (_, i) => problem.columns[3 * i + 2]!);
  const covariance = denseCovariance(timesS, counts, noise);
  const shape = shapeOf(parameters, false);
  const template = dipTemplate(timesS, 0, onTimes, shape);

  it("is generalised least squares of depth and small changes with the priors as readings more: dense twin", () => {
    const slopes = Array.from({ length: parameters.length }, (_, k) => {
      const moved = Float64Array.from(parameters);
      moved[k]! += 0.02;
      const after = dipTemplate(timesS, 0, timesOf(problem, moved), shapeOf(moved, false));
      return after.map((v, i) => (0.19 * (v - template[i]!)) / 0.02);
    });
    const n = timesS.length;
    const size = n + priors.length;
    // Each prior is one reading of its parameter, off by what it is off already.
    const whole = Array.from({ length: size }, (_, a) =>
      Array.from({ length: size }, (__, b) =>
        a < n && b < n ? covariance[a]![b]! : a === b ? priors[a - n]!.sd ** 2 : 0,
      ),
    );
    const pad = (column: ArrayLike<number>, k = -1) =>
      Array.from({ length: size }, (_, a) => (a < n ? column[a]! : a - n === k ? 1 : 0));
    const columns = [
      pad(timesS.map(() => 1)),
      pad(timesS.map((t) => (t - 18) / 18)),
      pad(template),
      ...slopes.map((slope, k) => pad(slope, k)),
    ];
    const target = [...y.map((v, i) => v - 0.19 * template[i]!), ...priors.map(({ mean }, k) => mean - parameters[k]!)];
    const dense = generalizedLeastSquares(whole, columns, target);
    expect(found.depthV).toBeCloseTo(0.19 + dense.estimates[2]!, 6);
    found.steps.forEach((step, k) => {
      expect(step, `${k}`).toBeCloseTo(dense.estimates[3 + k]!, 4);
    });
    const count = parameters.length + 1;
    for (let a = 0; a < count; a++) {
      for (let b = 0; b < count; b++) {
        const expected = dense.estimateCovariance[2 + a]![2 + b]!;
        const scale = Math.sqrt(dense.estimateCovariance[2 + a]![2 + a]! * dense.estimateCovariance[2 + b]![2 + b]!);
        expect(Math.abs(found.covariance[a * count + b]! - expected) / scale).toBeLessThan(1e-3);
      }
    }
    // Costs: at the point with level and line fitted alone, and after the whole step.
    const { inverse } = invert(covariance);
    const costOf = (values: readonly number[]) =>
      values.reduce((sum, v, i) => sum + v * inverse[i]!.reduce((inner, w, j) => inner + w * values[j]!, 0), 0);
    const plain = generalizedLeastSquares(
      covariance,
      columns.slice(0, 2).map((column) => column.slice(0, n)),
      target.slice(0, n),
    );
    const rest = target.slice(0, n).map((v, i) => v - plain.estimates[0]! - plain.estimates[1]! * columns[1]![i]!);
    const penalty = priors.reduce((sum, { mean, sd }, k) => sum + ((parameters[k]! - mean) / sd) ** 2, 0);
    expect(found.costAt / (costOf(rest) + penalty)).toBeCloseTo(1, 4);
    expect(found.costAhead).toBeLessThan(found.costAt);
    // What the whole step leaves of readings and priors, were all linear.
    const { inverse: wholeInverse } = invert(whole);
    const left = target.map(
      (v, i) => v - columns.reduce((sum, column, c) => sum + column[i]! * dense.estimates[c]!, 0),
    );
    const ahead = left.reduce(
      (sum, v, i) => sum + v * wholeInverse[i]!.reduce((inner, w, j) => inner + w * left[j]!, 0),
      0,
    );
    expect(found.costAhead / ahead).toBeCloseTo(1, 4);
  });

  it("knows the noise of the depth with shape and times held", () => {
    const columns = [timesS.map(() => 1), timesS.map((t) => (t - 18) / 18), template].map((column) => [...column]);
    const dense = generalizedLeastSquares(covariance, columns, y);
    expect(found.uNoiseV / Math.sqrt(dense.estimateCovariance[2]![2]!)).toBeCloseTo(1, 4);
    expect(Array.from(found.template)).toEqual(Array.from(template));
  });
});

describe("linearized() of a needle that swings", () => {
  it("is generalised least squares of depth and small changes, the damping ratio among them: dense twin", () => {
    const problem = problemOf({ swings: true }, [0.1, -0.05, 0.08, 0], 0.2, 0.004);
    const priors = shapePriors(problem);
    const parameters = startParameters(problem, { ...truth, dampingRatio: 0.5 });
    const found = linearized(problem, priors, parameters, 0.19);
    const template = dipTemplate(timesS, 0, onTimes, shapeOf(parameters, true));
    const slopes = Array.from(parameters, (_, k) => {
      const moved = Float64Array.from(parameters);
      moved[k]! += 0.02;
      const after = dipTemplate(timesS, 0, timesOf(problem, moved), shapeOf(moved, true));
      return after.map((v, i) => (0.19 * (v - template[i]!)) / 0.02);
    });
    const n = timesS.length;
    const covariance = denseCovariance(timesS, counts, noise);
    const whole = Array.from({ length: n + priors.length }, (_, a) =>
      Array.from({ length: n + priors.length }, (__, b) =>
        a < n && b < n ? covariance[a]![b]! : a === b ? priors[a - n]!.sd ** 2 : 0,
      ),
    );
    const pad = (column: ArrayLike<number>, k = -1) => [...Array.from(column), ...priors.map((_, j) => +(j === k))];
    const columns = [pad(timesS.map(() => 1)), pad(timesS), pad(template), ...slopes.map((slope, k) => pad(slope, k))];
    const y = Array.from(timesS, (_, i) => problem.columns[3 * i + 2]! - 0.19 * template[i]!);
    const dense = generalizedLeastSquares(whole, columns, [
      ...y,
      ...priors.map(({ mean }, k) => mean - parameters[k]!),
    ]);
    expect(found.depthV).toBeCloseTo(0.19 + dense.estimates[2]!, 6);
    found.steps.forEach((step, k) => {
      expect(step, `${k}`).toBeCloseTo(dense.estimates[3 + k]!, 4);
    });
  });
});

describe("costOf()", () => {
  it("is what linearized() starts from", () => {
    const problem = problemOf({}, [0.1, -0.05, 0.08, 0], 0.2, 0.004);
    const priors = shapePriors(problem);
    const parameters = startParameters(problem, truth);
    const { costAt } = linearized(problem, priors, parameters, 0.19);
    expect(costOf(problem, priors, parameters, 0.19) / costAt).toBeCloseTo(1, 9);
  });
});

describe("refineDepth() of dips without noise", () => {
  const start: DipShape = { shiftS: 0, lagS: 0.35, inrush: 0.5, settleS: 2.5, polarization: 0.3, polarizationS: 15 };

  it("finds the depth and each switching time where the dips are far stronger than the noise", () => {
    const movedS = [0.15, -0.2, 0.1, 0.25];
    const quiet = { ...noise, whiteV: 2e-3, colouredV: 1e-4, walkVPerSqrtS: 1e-4, bendVPerS15: 1e-6 };
    const found = refineDepth(problemOf({ noise: quiet }, movedS), { shape: start, depthV: 0.15 });
    expect(Math.abs(found.depthV - 0.2)).toBeLessThan(4 * found.uDepthV);
    expect(found.uDepthV).toBeLessThan(0.02);
    found.onTimes.forEach(({ onsetS, releaseS }, k) => {
      expect(onsetS).toBeCloseTo(onTimes[k]!.onsetS + movedS[2 * k]!, 1);
      expect(releaseS).toBeCloseTo(onTimes[k]!.releaseS + movedS[2 * k + 1]!, 1);
    });
    expect(found.uTimesS).toHaveLength(4);
    for (const u of found.uTimesS) expect(u).toBeLessThan(0.1);
    expect(found.shape.inrush).toBeCloseTo(0.6, 1);
    expect(found.uInrush).toBeGreaterThan(0);
    expect(found.uNoiseV).toBeLessThan(found.uDepthV);
    expect(found.contradicted).toBeUndefined();
  });

  it("does not hold a load to a kind or a lag that the readings clearly contradict, and says which", () => {
    const told = (changed: Partial<RefinementProblem>, at = noise) =>
      refineDepth(problemOf({ ...changed, noise: at }), { shape: start, depthV: 0.2 }).contradicted;
    const quiet = { ...noise, whiteV: 2e-3, colouredV: 1e-4, walkVPerSqrtS: 1e-4, bendVPerS15: 1e-6 };
    expect(told({ kind: "resistive" }, quiet)).toBe("kind");
    expect(told({ kind: "heater", meter: { lagS: 2 } }, quiet)).toBe("lag");
    expect(told({ kind: "resistive", meter: { lagS: 2 } }, quiet)).toBe("kind-and-lag");
    expect(told({ kind: "resistive", meter: { lagS: 0.4 } }, quiet)).toBe("kind");
    expect(told({ kind: "heater", meter: { lagS: 0.4 } }, quiet)).toBeUndefined();
    // Dips hardly out of the noise contradict nothing.
    const loud = { ...noise, whiteV: 0.3 };
    expect(told({ kind: "resistive", meter: { lagS: 2 } }, loud)).toBeUndefined();
  });
});
