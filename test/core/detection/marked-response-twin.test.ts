import { describe, expect, it } from "vitest";
import { averagedScore, withoutTwins } from "../../../src/core/detection/averaged-score.js";
import { type LoadWork, startWork } from "../../../src/core/detection/load-work.js";
import { respond } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import type { RefinedDepth } from "../../../src/core/detection/shape-refinement.js";
import type { OnTime } from "../../../src/core/detection/switching-template.js";
import { posteriorNodes } from "../../../src/core/noise/posterior-nodes.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { mixtureMoments } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, inner, invert, times } from "../../oracles/dense-noise.js";

const timesS = Float64Array.from({ length: 90 }, (_, i) => i * 0.5);
const on = (...onsetsS: number[]): OnTime[] => onsetsS.map((onsetS) => ({ onsetS, releaseS: onsetS + 4 }));

/** Two loads, 40 mV and 100 mV deep, in 30 mV of coloured noise. */
function bench(seed: number) {
  const random = randomGenerator(seed);
  const loads = [
    { load: { id: "a", onTimes: on(6, 18, 30), kind: "heater" as const, timeUncertaintyS: 0.1 }, depthV: 0.04 },
    { load: { id: "b", onTimes: on(12, 36), kind: "resistive" as const, timeUncertaintyS: 0.1 }, depthV: 0.1 },
  ];
  let coloured = 0;
  const valuesV = timesS.map((t) => {
    coloured = 0.6 * coloured + 0.02 * random.normal();
    const dip = (k: number) => loads[k]!.load.onTimes.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
    return 24 - 0.001 * t - (dip(0) ? 0.04 : 0) - (dip(1) ? 0.1 : 0) + coloured + 0.02 * random.normal();
  });
  const series = {
    timesS,
    valuesV,
    readingCounts: timesS.map((_, i) => 1 + (i % 3)),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.03,
    medianIntervalS: 0.5,
  };
  const context = { meter: { lagS: 0.2 }, random: randomGenerator(1) };
  const works = loads.map(({ load }) => startWork(series, load, context));
  const design = new ReadingsDesign(series);
  const readings = design.explained(works.map(({ template }) => template));
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const fit = fitNoise(readings, prior);
  return { series, context, works, design, fit, nodes: posteriorNodes(readings, prior, fit) };
}
type Bench = ReturnType<typeof bench>;

/** Depth, its uncertainty and their correlations by each template, beside level, slope and others, in one noise. */
function dense(
  { series }: Bench,
  noise: Bench["fit"]["noise"],
  templates: readonly Float64Array[],
  others: readonly Float64Array[],
) {
  const { inverse } = invert(denseCovariance(series.timesS, series.readingCounts, noise));
  const beside = [timesS.map(() => 1), timesS.map((t) => t - 20), ...others].map((one) => Array.from(one));
  const weighted = beside.map((column) => times(inverse, column));
  const { inverse: normal } = invert(weighted.map((row) => beside.map((column) => inner(row, column))));
  const cleared = (column: ArrayLike<number>) => {
    const shares = times(
      normal,
      weighted.map((row) => inner(row, column)),
    );
    return Array.from(column, (value, i) => value - beside.reduce((sum, one, k) => sum + shares[k]! * one[i]!, 0));
  };
  const own = templates.map(cleared);
  const seen = own.map((one) => times(inverse, one));
  const precisions = own.map((one, j) => inner(one, seen[j]!));
  return {
    depthsV: seen.map((one, j) => inner(one, series.valuesV) / precisions[j]!),
    usV: precisions.map((precision) => 1 / Math.sqrt(precision)),
    correlations: Float64Array.from(
      own.flatMap((one, j) => seen.map((other, k) => inner(one, other) / Math.sqrt(precisions[j]! * precisions[k]!))),
    ),
  };
}

const momentsOf = (values: readonly number[], weights: readonly number[]) => {
  const total = weights.reduce((a, b) => a + b, 0);
  const mean = values.reduce((sum, value, k) => sum + weights[k]! * value, 0) / total;
  return { mean, sd: Math.sqrt(values.reduce((sum, value, k) => sum + weights[k]! * (value - mean) ** 2, 0) / total) };
};

/** Prior of each shape times its likelihood, the depth integrated out. */
function posteriorOf({ depthsV, usV }: ReturnType<typeof dense>, { bank }: LoadWork): number[] {
  const plain = bank.map(({ weight }, j) => weight * usV[j]! * Math.exp((depthsV[j]! / usV[j]!) ** 2 / 2));
  const total = plain.reduce((a, b) => a + b, 0);
  return plain.map((value) => value / total);
}

describe("respond() by dense least squares in every node of the noise", () => {
  it.each([1, 2, 3])("averages score, unit and depth over shapes and noise (seed %d)", (seed) => {
    const one = bench(seed);
    const [work, other] = one.works as [LoadWork, LoadWork];
    const found = respond(one.design, one.works, work, one.fit, one.nodes, one.context);
    const byNode = one.nodes.map(({ noise }) => dense(one, noise, work.templates, [other.template]));
    const nodeWeights = one.nodes.map(({ weight }) => weight);
    const atMode = byNode[0]!;
    const posterior = posteriorOf(atMode, work);
    const typical = posterior.indexOf(Math.max(...posterior));
    const scale = momentsOf(
      byNode.map(({ usV }) => Math.log(usV[typical]!)),
      nodeWeights,
    );
    const depthSd = momentsOf(
      byNode.map(({ depthsV }) => depthsV[typical]!),
      nodeWeights,
    ).sd;
    const voltsPerScore = Math.hypot(Math.exp(scale.mean), depthSd);
    expect(found.voltsPerScore / voltsPerScore).toBeCloseTo(1, 6);
    expect(found.scaleSd).toBeCloseTo(scale.sd, 6);
    const perVolt = work.bank.reduce((sum, { weight }, j) => sum + weight / atMode.usV[j]!, 0);
    expect(found.expectedVoltsPerScore / (voltsPerScore / atMode.usV[typical]! / perVolt)).toBeCloseTo(1, 6);
    // Shapes that are all but one are scored once.
    const { bank, members } = withoutTwins({
      weights: Float64Array.from(work.bank, ({ weight }) => weight),
      correlations: atMode.correlations,
    });
    const scores = Float64Array.from(
      members,
      (j) => ((atMode.depthsV[j]! / atMode.usV[j]!) * atMode.usV[typical]!) / voltsPerScore,
    );
    expect(found.score).toBeCloseTo(averagedScore(scores, bank.weights), 5);
    const parts = byNode.flatMap((node, k) =>
      posteriorOf(node, work).map((weight, j) => ({
        weight: weight * nodeWeights[k]!,
        mean: node.depthsV[j]!,
        sd: node.usV[j]!,
      })),
    );
    const mean = parts.reduce((sum, part) => sum + part.weight * part.mean, 0);
    const variance = parts.reduce((sum, part) => sum + part.weight * (part.sd ** 2 + (part.mean - mean) ** 2), 0);
    const depth = mixtureMoments(found.depth);
    expect(depth.mean / mean).toBeCloseTo(1, 4);
    expect(depth.sd / Math.sqrt(variance)).toBeCloseTo(1, 4);
    expect(found).toMatchObject({ id: "a", refined: null, leftovers: [], roundingCounted: false });
    expect(found.shape).toBe(work.shape);
    expect(found.template).toBe(work.template);
    expect(found.onTimes).toBe(work.load.onTimes);
  });

  it("stretches what noise leaves open of a fitted depth as the likeliest shape fares in each noise", () => {
    const one = bench(4);
    const [work, other] = one.works as [LoadWork, LoadWork];
    const shape = { ...work.shape, lagS: 0.3 };
    work.refined = { depthV: 0.05, uDepthV: 0.013, uNoiseV: 0.012, shape } as RefinedDepth;
    const found = respond(one.design, one.works, work, one.fit, one.nodes, one.context);
    const byNode = one.nodes.map(({ noise }) => dense(one, noise, work.templates, [other.template]));
    const posterior = posteriorOf(byNode[0]!, work);
    const typical = posterior.indexOf(Math.max(...posterior));
    expect(Array.from(found.depth.means)).toEqual(one.nodes.map(() => 0.05));
    expect(Array.from(found.depth.weights)).toEqual(one.nodes.map(({ weight }) => weight));
    byNode.forEach(({ usV }, k) => {
      const stretched = (0.012 * usV[typical]!) / byNode[0]!.usV[typical]!;
      // 5 mV are the shape's own.
      expect(found.depth.sds[k]! / Math.hypot(stretched, 0.005)).toBeCloseTo(1, 6);
    });
    const scale = momentsOf(
      byNode.map(({ usV }) => Math.log(usV[typical]!)),
      one.nodes.map(({ weight }) => weight),
    );
    expect(found.scaleSd).toBeCloseTo(scale.sd, 6);
    expect(found.shape).toBe(shape);
  });
});
