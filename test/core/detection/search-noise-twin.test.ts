import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { noiseOfMinutes, partOf, searchNoise } from "../../../src/core/detection/search-noise.js";
import {
  fitNoise,
  likeliestNoise,
  type NoisePrior,
  restrictedObjective,
  weakNoisePrior,
} from "../../../src/core/noise/restricted-likelihood.js";
import type { WorkingSeries } from "../../../src/core/series/working-series.js";
import { noisySeries } from "./noise-kinds.js";

const kind = { name: "wandering", whiteV: 0.02, colouredV: 0.02, walkVPerSqrtS: 0.006 };
const middleOf = (values: readonly number[]) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;

/**
 * Noise of a long recording by plain lists: stretches of so many seconds spread evenly from the first reading to the last,
 * each fitted by itself; then all that the median of these fits suits nearly as well as their own, together. A prior holds
 * once, not once a stretch.
 */
function byHand(
  series: WorkingSeries,
  dips: readonly Float64Array[],
  prior: NoisePrior,
  { most, lengthS, mostReadings }: { most: number; lengthS: number; mostReadings: number },
) {
  const n = series.timesS.length;
  const rate = (n - 1) / (series.timesS[n - 1]! - series.timesS[0]!);
  const length = Math.max(30, Math.min(Math.floor(n / 2), Math.round(lengthS * rate)));
  const count = Math.max(2, Math.min(most, Math.floor(n / length)));
  const every = Math.max(1, Math.floor(length / mostReadings));
  const stretches = Array.from({ length: count }, (_, k) => {
    const first = Math.floor(((n - length) * k) / (count - 1));
    const at = Array.from({ length }, (__, i) => first + i).filter((__, i) => i % every === 0);
    const pick = (values: ArrayLike<number>) => Float64Array.from(at, (i) => values[i]!);
    const noiseFactors = series.noiseFactors == null ? null : pick(series.noiseFactors);
    const own = {
      ...series,
      timesS: pick(series.timesS),
      valuesV: pick(series.valuesV),
      readingCounts: pick(series.readingCounts),
      noiseFactors,
    };
    const ownDips = dips.map(pick).filter((dip) => dip.some((v) => v !== 0));
    return {
      readings: new ReadingsDesign(own).explained(ownDips),
      startS: series.timesS[first]!,
      endS: series.timesS[first + length - 1]!,
    };
  });
  let last: Float64Array | undefined;
  const fits = stretches.map(({ readings }) => {
    const fit = fitNoise(readings, prior, last, 0.03);
    last = fit.logs;
    return fit;
  });
  const middle = Float64Array.from({ length: 5 }, (_, k) => middleOf(fits.map(({ logs }) => logs[k]!)));
  const worse = stretches.map(({ readings }, k) => restrictedObjective(readings, middle, prior) - fits[k]!.objective);
  // Half of the 1 % point of chi-square with five degrees of freedom, 15.09 (table): 7.5.
  const kept = stretches.filter((_, k) => worse[k]! <= Math.max(7.5, middleOf(worse)));
  const flat = { meanLogs: prior.meanLogs, sdLogs: prior.sdLogs.map(() => Number.POSITIVE_INFINITY) };
  const penalty = (logs: Float64Array) =>
    logs.reduce((sum, log, k) => sum + ((log - prior.meanLogs[k]!) / prior.sdLogs[k]!) ** 2 / 2, 0);
  const together = (logs: Float64Array) =>
    kept.reduce((sum, { readings }) => sum + restrictedObjective(readings, logs, flat), 0) + penalty(logs);
  return { noise: likeliestNoise(together, middle, 0.03).noise, kept, stretches };
}

/** The weak prior, but for walk, bend and coloured noise: a long stretch shows by itself how calm they are. */
function openPrior(design: ReadingsDesign): NoisePrior {
  const { meanLogs, sdLogs } = weakNoisePrior(design.scatterV, design.intervalS);
  return { meanLogs, sdLogs: sdLogs.map((sd, k) => ([1, 3, 4].includes(k) ? 25 : sd)) };
}
const LONG = { most: 5, lengthS: 200, mostReadings: 1000 };
const MINUTES = { most: 7, lengthS: 60, mostReadings: 600 };

function expectSame(told: object, hand: object) {
  for (const [key, value] of Object.entries(hand)) {
    // Minimised to where less than 0.03 is gained: the two sums are the same but for rounding.
    const own = (told as Record<string, number>)[key]!;
    expect(own / (value as number), key).toBeCloseTo(1, 4);
  }
}

describe("searchNoise() of a long recording beside stretches of plain lists", () => {
  it.each([
    ["half of it at a time", 1, 240, 0],
    ["readings that come closer together", 0.5, 700, 0],
    ["several stretches", 0.7, 1200, 0],
    ["a stretch that is much louder left out", 0.7, 1200, 12],
    ["a few readings", 0.25, 220, 0],
  ])("has the same stretches and noise: %s", (_, rateHz, durationS, louder) => {
    const plain = noisySeries(kind, { seed: 3, rateHz, durationS });
    const timesS = plain.timesS.map((t) => 50 + t / (1 + (0.3 * t) / durationS));
    const isLoud = (i: number) => plain.timesS[i]! > 0.4 * durationS && plain.timesS[i]! < 0.6 * durationS;
    const valuesV = plain.valuesV.map((v, i) => v + (isLoud(i) ? louder * 0.02 * (((i * 7) % 5) - 2) : 0));
    const series = { ...plain, timesS, valuesV };
    // A dip within the first tenth: most stretches know nothing of it.
    const dip = timesS.map((__, i) => (i > timesS.length / 20 && i < timesS.length / 12 ? -1 : 0));
    for (const dips of [[], [dip]]) {
      const design = new ReadingsDesign(series);
      const told = searchNoise(design, dips);
      const hand = byHand(series, dips, openPrior(design), LONG);
      const spans = (list: readonly { startS: number; endS: number }[]) =>
        list.map(({ startS, endS }) => [startS, endS]);
      expect(spans(told.stretches)).toEqual(spans(hand.kept));
      if (louder > 0) expect(hand.kept.length).toBeLessThan(hand.stretches.length);
      expectSame(told.noise, hand.noise);
    }
  });

  it("takes every second or third reading of fast ones, with their noise factors and counts", () => {
    const plain = noisySeries(kind, { seed: 5, rateHz: 11, durationS: 170 });
    const noiseFactors = plain.timesS.map((t) => 1 + 0.5 * Math.sin(t / 20));
    const series = { ...plain, noiseFactors, readingCounts: plain.readingCounts.map((_, i) => 1 + (i % 3)) };
    const design = new ReadingsDesign(series);
    const cut = { most: 7, lengthS: 60, mostReadings: 600 };
    expectSame(
      noiseOfMinutes(design),
      byHand(series, [], weakNoisePrior(design.scatterV, design.intervalS), cut).noise,
    );
  });
});

describe("noiseOfMinutes() beside stretches of plain lists", () => {
  it.each([
    ["three minutes", 2, 190],
    ["more than seven", 1, 900],
    ["fewer than thirty readings a minute", 0.3, 400],
  ])("is that of minutes spread evenly, with the prior unchanged: %s", (_, rateHz, durationS) => {
    const series = noisySeries(kind, { seed: 4, rateHz, durationS });
    const design = new ReadingsDesign(series);
    const prior = weakNoisePrior(design.scatterV, design.intervalS);
    expectSame(noiseOfMinutes(design), byHand(series, [], prior, MINUTES).noise);
  });
});

describe("partOf()", () => {
  it("cuts times, values, counts and noise factors alike", () => {
    const plain = noisySeries(kind, { seed: 1, rateHz: 1, durationS: 20 });
    const noiseFactors = plain.timesS.map((t) => 1 + t);
    const part = partOf({ ...plain, noiseFactors, readingCounts: plain.timesS.map((t) => 2 + t) }, 3, 7);
    expect([...part.timesS]).toEqual([3, 4, 5, 6]);
    expect([...part.valuesV]).toEqual([...plain.valuesV.slice(3, 7)]);
    expect([...part.readingCounts]).toEqual([5, 6, 7, 8]);
    expect([...part.noiseFactors!]).toEqual([4, 5, 6, 7]);
    expect(partOf(plain, 3, 7).noiseFactors).toBeNull();
  });
});
