import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import {
  costOf,
  linearized,
  type RefinementProblem,
  shapePriors,
  startParameters,
} from "../../../src/core/detection/shape-linearization.js";
import { type RefinedDepth, refineDepth } from "../../../src/core/detection/shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";

const truth: DipShape = { shiftS: 0, lagS: 0.3, inrush: 0.4, settleS: 2.2, polarization: 0.3, polarizationS: 18 };
const start: DipShape = { ...truth, lagS: 0.5, inrush: 0, polarization: 0.1, settleS: 3, polarizationS: 20 };
const noise = { whiteV: 0.004, colouredV: 0.002, colouredTimeS: 0.5, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
const marked: readonly OnTime[] = [
  { onsetS: 6, releaseS: 10 },
  { onsetS: 15, releaseS: 19 },
];

/** Readings of dips of this shape, 0.2 V deep, whose switchings missed their marks by so much. */
function problemOf(
  seed: number,
  shape: DipShape,
  changed: Partial<RefinementProblem> = {},
  offsetsS: readonly number[] = [0.1, -0.08, 0.05, 0.1],
): RefinementProblem {
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: 130 }, (_, i) => 0.2 * i);
  const onTimes = marked.map(({ onsetS, releaseS }, k) => ({
    onsetS: onsetS + offsetsS[2 * k]!,
    releaseS: releaseS + offsetsS[2 * k + 1]!,
  }));
  const dips = dipTemplate(timesS, 0, onTimes, shape);
  const sampled = {
    timesS,
    valuesV: timesS.map((t, i) => 24 + 0.001 * t + 0.2 * dips[i]! + 0.0045 * random.normal()),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.004,
    medianIntervalS: 0.2,
  };
  const columns = new ReadingsDesign(sampled).columns([]);
  return {
    sampled,
    blockS: 0,
    ...columns,
    noise,
    onTimes: marked,
    kind: "heater",
    meter: undefined,
    timeUncertaintyS: 0.2,
    ...changed,
  };
}
const parametersOf = (problem: RefinementProblem, { shape, onTimes }: RefinedDepth) =>
  startParameters(problem, shape, onTimes);
const costAt = (problem: RefinementProblem, found: RefinedDepth) =>
  costOf(problem, shapePriors(problem), parametersOf(problem, found), found.depthV);

/** The least cost that a pattern search comes to: each parameter in turn by ever smaller steps. */
function leastCost(problem: RefinementProblem, from: Float64Array, depthV: number): number {
  const priors = shapePriors(problem);
  const point = [depthV, ...from];
  const cost = (at: readonly number[]) => costOf(problem, priors, Float64Array.from(at.slice(1)), at[0]!);
  let best = cost(point);
  const steps = [0.02, ...priors.map(({ sd }) => sd / 2)];
  for (let halvings = 0; halvings < 11; halvings++) {
    for (let round = 0; round < 80; round++) {
      const before = best;
      point.forEach((_, k) => {
        for (const sign of [1, -1]) {
          const moved = point.map((value, j) => (j === k ? value + sign * steps[k]! : value));
          const own = cost(moved);
          if (own < best) {
            best = own;
            point[k] = moved[k]!;
          }
        }
      });
      if (before - best < 1e-4) break;
    }
    steps.forEach((step, k) => {
      steps[k] = step / 2;
    });
  }
  return best;
}

describe("refineDepth() ends where the sum of squares is least", () => {
  it.each([1, 2, 3, 4, 5, 6])("and tells the uncertainty that the curvature there has (seed %d)", (seed) => {
    const problem = problemOf(seed, truth);
    const found = refineDepth(problem, { shape: start, depthV: 0.25 });
    const priors = shapePriors(problem);
    const parameters = parametersOf(problem, found);
    const cost = costAt(problem, found);
    // Along each parameter a parabola promises next to nothing more.
    for (let k = -1; k < parameters.length; k++) {
      const at = (by: number) => {
        const moved = Float64Array.from(parameters);
        if (k >= 0) moved[k]! += by * priors[k]!.sd;
        return costOf(problem, priors, moved, found.depthV + (k < 0 ? by * 0.01 : 0));
      };
      const [below, above] = [at(-0.05), at(0.05)];
      const promise = (above - below) ** 2 / (8 * Math.max(above + below - 2 * cost, 1e-9));
      expect(promise, `parameter ${k}`).toBeLessThan(0.05);
    }
    expect(cost).toBeLessThan(leastCost(problem, startParameters(problem, truth), 0.2) + 0.05);
    // Depth first, then lag, settling, polarisation time, inrush, polarisation and the times.
    const { covariance, uNoiseV, template } = linearized(problem, priors, parameters, found.depthV);
    const size = parameters.length + 1;
    const variance = (a: number) => covariance[a * size + a]!;
    expect(found.uDepthV / Math.sqrt(variance(0))).toBeCloseTo(1, 2);
    expect(found.uInrush / Math.sqrt(variance(4))).toBeCloseTo(1, 2);
    expect(found.depthInrushCovarianceV / covariance[4]!).toBeCloseTo(1, 1);
    found.uTimesS.forEach((u, k) => {
      expect(u / Math.sqrt(variance(6 + k))).toBeCloseTo(1, 2);
    });
    expect(found.uTimesS).toHaveLength(4);
    expect(found.uNoiseV / uNoiseV).toBeCloseTo(1, 4);
    expect(Math.max(...template.map((v, i) => Math.abs(v - found.template[i]!)))).toBeLessThan(1e-6);
    expect(found.contradicted).toBeUndefined();
  });
});

describe("refineDepth() of what the profile tells wrongly", () => {
  const told = { kind: "resistive", meter: { lagS: 0.3 } } as const;
  const cases = [0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5].flatMap((inrush) =>
    [0.3, 0.45, 0.6, 0.9].map((lagS) => ({ inrush, lagS })),
  );

  it("yields kind, lag or both where the sum of squares falls by more than 10.8, the least one, and says which", () => {
    const seen = new Map<string, number>();
    cases.forEach(({ inrush, lagS }, k) => {
      const problem = problemOf(20 + k, { ...truth, inrush, lagS, polarization: 0.3 }, told);
      const from = startParameters(problem, { ...truth, inrush, lagS });
      const costs = [
        { what: undefined, cost: leastCost(problem, from, 0.2) },
        { what: "kind", cost: leastCost({ ...problem, kind: null }, from, 0.2) + 10.8 },
        { what: "lag", cost: leastCost({ ...problem, meter: undefined }, from, 0.2) + 10.8 },
        { what: "kind-and-lag", cost: leastCost({ ...problem, kind: null, meter: undefined }, from, 0.2) + 10.8 },
      ];
      // The first that is clearly better than what was told, then any that is clearly better than that one.
      let best = costs[0]!;
      let close = false;
      for (const other of costs.slice(1)) {
        const limit = best.cost;
        close ||= Math.abs(other.cost - limit) < 1.5;
        if (other.cost < limit) best = { what: other.what, cost: other.cost - 10.8 };
      }
      const found = refineDepth(problem, { shape: start, depthV: 0.25 });
      seen.set(String(best.what), (seen.get(String(best.what)) ?? 0) + 1);
      if (!close) expect(found.contradicted, `inrush ${inrush}, lag ${lagS}`).toBe(best.what);
    });
    // Each answer was looked for.
    expect([...seen.keys()].sort()).toEqual(["kind", "kind-and-lag", "lag", "undefined"]);
  }, 120_000);
});

describe("refineDepth() of a mark that is far off", () => {
  it.each([0.5, -0.5])(
    "puts a switching that is stuck beside its edge onto it: %d s off, with a hand of 0.2 s",
    (offS) => {
      for (const k of [0, 1, 2, 3]) {
        const offsetsS = [0, 1, 2, 3].map((j) => (j === k ? offS : 0));
        const swift = { ...truth, inrush: 0, lagS: 0.08 };
        const problem = problemOf(60 + k, swift, { kind: "resistive" }, offsetsS);
        const found = refineDepth(problem, { shape: { ...start, lagS: 0.1 }, depthV: 0.2 });
        const at = k % 2 === 0 ? found.onTimes[k >> 1]!.onsetS : found.onTimes[k >> 1]!.releaseS;
        const mark = k % 2 === 0 ? marked[k >> 1]!.onsetS : marked[k >> 1]!.releaseS;
        expect(Math.abs(at - mark - offS), `switching ${k}`).toBeLessThan(0.12);
      }
    },
  );
});
