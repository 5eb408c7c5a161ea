import { describe, expect, it } from "vitest";
import {
  heaviest,
  type LoadWork,
  leftoverShapes,
  scoredColumns,
  scoresOf,
  shapeWeights,
  startWork,
} from "../../../src/core/detection/load-work.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { shapeBank, type WeightedShape } from "../../../src/core/detection/shape-bank.js";
import { dipTemplate } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";

const shape = { shiftS: 0.1, lagS: 0.4, inrush: 0.5, settleS: 3, polarization: 0.2, polarizationS: 20 };
const bankOf = (weights: readonly number[]): WeightedShape[] => weights.map((weight) => ({ shape, weight }));
const found = (scores: readonly number[], u: readonly number[]) => ({
  scores: Float64Array.from(scores),
  uAmplitudesV: Float64Array.from(u),
  amplitudesV: new Float64Array(scores.length),
  correlations: null,
});

describe("shapeWeights()", () => {
  it("are prior times likelihood with the amplitude integrated out: w u exp(z^2 / 2), summing to 1", () => {
    const weights = shapeWeights(found([1, 2, -2], [0.1, 0.2, 0.3]), bankOf([0.5, 0.3, 0.2]));
    const plain = [0.05 * Math.exp(0.5), 0.06 * Math.exp(2), 0.06 * Math.exp(2)];
    const total = plain.reduce((a, b) => a + b, 0);
    plain.forEach((value, k) => {
      expect(weights[k]).toBeCloseTo(value / total, 12);
    });
  });

  it("give nothing to a shape that the readings cannot show, and stand scores beyond any exponential", () => {
    const weights = shapeWeights(found([0, 60, 59], [Number.POSITIVE_INFINITY, 0.1, 0.1]), bankOf([0.5, 0.25, 0.25]));
    expect(weights[0]).toBe(0);
    expect(weights[2]! / weights[1]!).toBeCloseTo(Math.exp((59 ** 2 - 60 ** 2) / 2), 30);
    expect(weights[1]! + weights[2]!).toBeCloseTo(1, 12);
  });
});

describe("heaviest()", () => {
  it("is the first of the largest", () => {
    expect(heaviest(Float64Array.of(1, 3, 2, 3))).toBe(1);
    expect(heaviest(Float64Array.of(4, 3))).toBe(0);
    expect(heaviest(Float64Array.of(1, 2, 5))).toBe(2);
  });
});

describe("leftoverShapes()", () => {
  it("differ from the fitted one in settling, polarisation or lag, each in one thing more", () => {
    const shapes = leftoverShapes(shape);
    const changed = shapes.map((one) =>
      Object.keys(shape).filter((key) => one[key as keyof typeof shape] !== shape[key as keyof typeof shape]),
    );
    expect(changed).toEqual([
      ["inrush"],
      ["inrush", "settleS"],
      ["polarization"],
      ["polarization", "polarizationS"],
      ["lagS"],
    ]);
    for (const one of shapes) {
      expect(one.inrush).toBeGreaterThanOrEqual(shape.inrush);
      expect(one.settleS).toBeLessThanOrEqual(shape.settleS);
      expect(one.polarization).toBeGreaterThanOrEqual(shape.polarization);
      expect(one.polarizationS).toBeLessThanOrEqual(shape.polarizationS);
      expect(one.lagS).toBeGreaterThanOrEqual(shape.lagS);
    }
    // A meter without lag may have some.
    expect(leftoverShapes({ ...shape, lagS: 0 })[4]!.lagS).toBeGreaterThan(0);
  });
});

describe("startWork() and scoredColumns()", () => {
  const random = randomGenerator(3);
  const timesS = Float64Array.from({ length: 100 }, (_, i) => 1.5 * i);
  const series = {
    timesS,
    valuesV: timesS.map((t) => 24 - 0.001 * t + 0.01 * random.normal()),
    readingCounts: new Float64Array(100).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 1.5,
  };
  const design = new ReadingsDesign(series);
  const context = { meter: { lagS: 0.3 }, random };
  const load = (id: string, ...onsets: number[]) => ({
    id,
    onTimes: onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 6 })),
    kind: "heater" as const,
    timeUncertaintyS: 0.2,
  });
  const work = (id: string, leftovers: readonly Float64Array[], ...onsets: number[]): LoadWork => ({
    ...startWork(series, load(id, ...onsets), context),
    leftovers,
  });

  it("begin with the bank of the load and its weightiest shape, nothing fitted", () => {
    const own = startWork(series, load("a", 20, 60), context);
    const bank = shapeBank("heater", context.meter, 0.2);
    expect(own.bank).toEqual(bank);
    const first = bank.reduce((best, { weight }, k) => (weight > bank[best]!.weight ? k : best), 0);
    expect(own.shape).toEqual(bank[first]!.shape);
    expect(own.template).toBe(own.templates[first]);
    own.templates.forEach((template, k) => {
      expect(template).toEqual(dipTemplate(timesS, 0, load("a", 20, 60).onTimes, bank[k]!.shape));
    });
    expect(own).toMatchObject({ depthV: 0, shapeShows: false, refined: null, leftovers: [] });
  });

  it("stand beside level, slope and every other load, and beside what is left of a fitted one within 25 s", () => {
    const some = [1, 2].map((k) => timesS.map((t) => Math.sin(k * t)));
    const own = work("a", some, 60);
    // On from 60 s to 66 s: 25 s from a release at 35 s or an onset at 91 s.
    const counts = (...others: LoadWork[]) => scoredColumns(design, [own, ...others], own, own.templates).counts;
    expect(counts()).toEqual({ common: 2, templates: own.templates.length });
    expect(counts(work("b", some, 28.9)).common).toBe(3);
    expect(counts(work("b", some, 29.1)).common).toBe(5);
    expect(counts(work("b", some, 90.9)).common).toBe(5);
    expect(counts(work("b", some, 91.1)).common).toBe(3);
    expect(counts(work("b", some, 29)).common).toBe(3);
    expect(counts(work("b", some, 91)).common).toBe(3);
    // One of the own on-times is enough.
    const twice = work("a", some, 0, 60);
    expect(scoredColumns(design, [twice, work("b", some, 90)], twice, twice.templates).counts.common).toBe(5);
    expect(counts(work("b", some, 0, 130), work("c", [], 62), work("d", some, 0, 62)).common).toBe(7);
  });

  it("give depth and score of each template by dense least squares beside those columns", () => {
    const noise = { whiteV: 0.01, colouredV: 0.005, colouredTimeS: 1, walkVPerSqrtS: 1e-4, bendVPerS15: 1e-6 };
    const own = work("a", [], 60);
    const leftover = timesS.map((t) => Math.sin(0.4 * t));
    const other = work("b", [leftover], 80);
    const scored = scoredColumns(design, [other, own], own, own.templates.slice(0, 3));
    const found = scoresOf(scored, noise, false);
    const covariance = denseCovariance(timesS, series.readingCounts, noise);
    for (let j = 0; j < 3; j++) {
      const columns = [timesS.map(() => 1), timesS.map((t) => t - 75), other.template, leftover, own.templates[j]!];
      const fit = generalizedLeastSquares(
        covariance,
        columns.map((column) => Array.from(column)),
        series.valuesV,
      );
      expect(found.amplitudesV[j]).toBeCloseTo(fit.estimates[4]!, 6);
      expect(found.uAmplitudesV[j]! / Math.sqrt(fit.estimateCovariance[4]![4]!)).toBeCloseTo(1, 5);
    }
    expect(found.correlations).toBeNull();
    expect(scoresOf(scored, noise, true).correlations).toHaveLength(9);
  });
});
