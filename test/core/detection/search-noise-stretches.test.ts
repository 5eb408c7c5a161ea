import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { noiseOfMinutes, searchNoise } from "../../../src/core/detection/search-noise.js";
import { dipTemplate, plainShape } from "../../../src/core/detection/switching-template.js";
import {
  fitNoise,
  likeliestNoise,
  type NoisePrior,
  priorPenalty,
  restrictedObjective,
  weakNoisePrior,
} from "../../../src/core/noise/restricted-likelihood.js";
import type { WorkingSeries } from "../../../src/core/series/working-series.js";
import { fallOf, noisySeries } from "./noise-kinds.js";

const kind = { name: "wandering", whiteV: 0.02, colouredV: 0.02, walkVPerSqrtS: 0.006 };
const middleOf = (values: readonly number[]) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;

/** How a long recording is cut: at the most so many stretches of so many seconds, read at so many points at the least. */
interface Cut {
  readonly most: number;
  readonly lengthS: number;
  readonly points: number;
}

/**
 * The rule in words of its own: stretches of one length spread evenly from the first reading to the last; each thinned to
 * whole multiples of the interval as long as the points asked for remain; those left out whose own fit beats the median of
 * all fits by more than half the 1 % point of chi-square with five degrees of freedom, 15.09, and more than most do.
 */
function stretchNoise(
  series: WorkingSeries,
  dips: readonly Float64Array[],
  cut: Cut,
  prior: NoisePrior,
  mostMisfit = 7.5,
) {
  const n = series.timesS.length;
  const rate = (n - 1) / (series.timesS[n - 1]! - series.timesS[0]!);
  const length = Math.max(30, Math.min(Math.floor(n / 2), Math.round(cut.lengthS * rate)));
  const count = Math.max(2, Math.min(cut.most, Math.floor(n / length)));
  const step = Math.max(1, Math.floor(length / cut.points));
  const parts = Array.from({ length: count }, (_, k) => {
    const first = Math.floor(((n - length) / (count - 1)) * k);
    const taken = Array.from({ length: Math.ceil(length / step) }, (_, i) => first + i * step);
    const pick = (values: Float64Array) => Float64Array.from(taken, (i) => values[i]!);
    const seen = dips.map(pick).filter((dip) => dip.some((value) => value !== 0));
    const readings = new ReadingsDesign({
      ...series,
      timesS: pick(series.timesS),
      valuesV: pick(series.valuesV),
      readingCounts: pick(series.readingCounts),
      ...(series.noiseFactors == null ? {} : { noiseFactors: pick(series.noiseFactors) }),
    }).explained(seen);
    return { readings, startS: series.timesS[first]!, endS: series.timesS[first + length - 1]! };
  });
  let before: Float64Array | undefined;
  const fits = parts.map(({ readings }) => {
    const fit = fitNoise(readings, prior, before, 0.03);
    before = fit.logs;
    return fit;
  });
  const middle = Float64Array.from([0, 1, 2, 3, 4], (k) => middleOf(fits.map(({ logs }) => logs[k]!)));
  const misfits = parts.map(({ readings }, k) => restrictedObjective(readings, middle, prior) - fits[k]!.objective);
  const kept = parts.filter((_, k) => misfits[k]! <= Math.max(mostMisfit, middleOf(misfits)));
  // The prior counts once, not once for each stretch.
  const together = (logs: Float64Array) =>
    kept
      .map(({ readings }) => restrictedObjective(readings, logs, prior) - priorPenalty(logs, prior))
      .reduce((a, b) => a + b, priorPenalty(logs, prior));
  const { noise } = likeliestNoise(together, middle, 0.03);
  return { noise, kept: kept.map(({ startS, endS }) => ({ startS, endS })) };
}

/** All but nothing known of the coloured part, the walk and the bend. */
function open({ meanLogs, sdLogs }: NoisePrior): NoisePrior {
  return { meanLogs, sdLogs: Float64Array.of(sdLogs[0]!, 25, sdLogs[2]!, 25, 25) };
}
const LONG: Cut = { most: 5, lengthS: 200, points: 1000 };
const MINUTES: Cut = { most: 7, lengthS: 60, points: 600 };

const settings = [
  { seed: 1, rateHz: 2, durationS: 1300 },
  { seed: 2, rateHz: 2, durationS: 500 },
  { seed: 3, rateHz: 0.2, durationS: 330 },
  { seed: 4, rateHz: 11, durationS: 430 },
];
const falls = fallOf([
  [100, 108],
  [116, 124],
  [132, 140],
]);

function expectSame(found: ReturnType<typeof searchNoise>["noise"], byHand: typeof found) {
  for (const name of Object.keys(byHand) as (keyof typeof byHand)[]) {
    expect(found[name] / byHand[name], name).toBeCloseTo(1, 4);
  }
}

describe("searchNoise() of a long recording", () => {
  it.each(settings)("is that of its stretches together: %o", (setting) => {
    // Deep dips that nobody knows of, so that the stretch that holds them misfits.
    const series = noisySeries(kind, { ...setting, fallV: (t) => 0.6 * falls(t) });
    const design = new ReadingsDesign(series);
    const byHand = stretchNoise(series, [], LONG, open(weakNoisePrior(design.scatterV, design.intervalS)));
    const found = searchNoise(design, []);
    expectSame(found.noise, byHand.noise);
    expect(found.stretches.map(({ startS, endS }) => ({ startS, endS }))).toEqual(byHand.kept);
    const all = stretchNoise(series, [], LONG, open(weakNoisePrior(design.scatterV, design.intervalS)), 1e9);
    const every = searchNoise(design, [], "every-stretch");
    expectSame(every.noise, all.noise);
    expect(every.stretches.map(({ startS, endS }) => ({ startS, endS }))).toEqual(all.kept);
    expect([found.leftOut.length, every.leftOut.length]).toEqual([all.kept.length - byHand.kept.length, 0]);
  });

  it("is fitted beside the known dips, in the stretches that they reach", () => {
    const series = noisySeries(kind, { ...settings[0]!, fallV: (t) => 0.6 * falls(t) });
    const design = new ReadingsDesign(series);
    const onTimes = [100, 116, 132].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const dips = [dipTemplate(series.timesS, series.blockS, onTimes, plainShape(0.35))];
    const byHand = stretchNoise(series, dips, LONG, open(weakNoisePrior(design.scatterV, design.intervalS)));
    expectSame(searchNoise(design, dips).noise, byHand.noise);
  });

  it("lets the readings count less where they scatter more", () => {
    const plain = noisySeries(kind, settings[1]!);
    const series = { ...plain, noiseFactors: plain.timesS.map((t) => (t < 250 ? 1 : 1.7)) };
    const design = new ReadingsDesign(series);
    const byHand = stretchNoise(series, [], LONG, open(weakNoisePrior(design.scatterV, design.intervalS)));
    expectSame(searchNoise(design, []).noise, byHand.noise);
  });
});

describe("noiseOfMinutes() of a long recording", () => {
  it.each(settings)("is that of its minutes together, in what is known beforehand: %o", (setting) => {
    const series = noisySeries(kind, setting);
    const design = new ReadingsDesign(series);
    const byHand = stretchNoise(series, [], MINUTES, weakNoisePrior(design.scatterV, design.intervalS));
    expectSame(noiseOfMinutes(design), byHand.noise);
  });
});

describe("searchNoise() of a short recording with a stiff level", () => {
  it("knows the coloured part, the walk and the bend to be 0.6, 0.15 and 0.3 of what they may be otherwise", () => {
    const design = new ReadingsDesign(noisySeries(kind, { seed: 5, rateHz: 3, durationS: 60 }));
    const weak = weakNoisePrior(design.scatterV, design.intervalS);
    const meanLogs = weak.meanLogs.map((log, k) => log + Math.log([1, 0.6, 1, 0.15, 0.3][k]!));
    const sdLogs = Float64Array.of(weak.sdLogs[0]!, 0.5, 0.3, 0.3, 0.3);
    expectSame(searchNoise(design, [], "stiff").noise, fitNoise(design.explained([]), { meanLogs, sdLogs }).noise);
  });
});
