import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import { scanProbability } from "../../../src/core/detection/clump-probability.js";
import { edgeField } from "../../../src/core/detection/edge-field.js";
import { type KnownDips, takeOut } from "../../../src/core/detection/found-train.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { type FoundTrain, type SearchOptions, searchTrains } from "../../../src/core/detection/search.js";
import { degreesOfFreedom, type SearchNoise, searchNoise } from "../../../src/core/detection/search-noise.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { cadenceBank, openBank } from "../../../src/core/detection/train-bank.js";
import { rankOf, type ScanResult } from "../../../src/core/detection/train-scan.js";
import type { WorkingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { noisySeries } from "./noise-kinds.js";

/** On-times of a train of the scan, seconds. */
function onTimesOf({ train }: ScanResult, startS: number, stepS: number): OnTime[] {
  const { onSteps, offSteps } = train.rhythm;
  return Array.from({ length: train.switchingCount }, (_, k) => {
    const onset = train.first + k * (onSteps + offSteps);
    return { onsetS: startS + stepS * onset, releaseS: startS + stepS * (onset + onSteps) };
  });
}

/** The search of a short recording, whose noise rests on all of its readings, one train after the other. */
function byHand(series: WorkingSeries, options: SearchOptions) {
  const design = new ReadingsDesign(series);
  const lagS = options.lagS ?? 0.35;
  const bankOf = (stepS: number) => (options.cadence === null ? openBank(stepS) : cadenceBank(options.cadence, stepS));
  const templateOf = (onTimes: readonly OnTime[]) =>
    dipTemplate(series.timesS, series.blockS, onTimes, plainShape(lagS));
  const known: KnownDips = { templates: [], onTimes: [] };
  /** The scan and the noise beside its train, in turn until the train stays, two times at the most. */
  const settled = (start: SearchNoise) => {
    let noise = start;
    let before = "";
    for (let refits = 0; ; refits++) {
      const field = edgeField(design, noise.noise, lagS, known);
      const result = scanTrains(field, bankOf(field.stepS))!;
      const onTimes = onTimesOf(result, field.startS, field.stepS);
      const now = JSON.stringify(result.train);
      if (now === before || refits === 2) return { noise, field, result, onTimes };
      before = now;
      noise = searchNoise(design, [...known.templates, templateOf(onTimes)]);
    }
  };
  const found: (Omit<FoundTrain, "template" | "columns" | "criticalShare"> & { readonly rarity: number })[] = [];
  const starts: ("free" | "stiff")[] = [];
  let deepestV = 0;
  for (;;) {
    const free = settled(searchNoise(design, known.templates));
    const stiff = settled(searchNoise(design, known.templates, "stiff"));
    const rank = ({ result }: typeof free) => rankOf(result.score, result.rarity);
    const { noise, field, result, onTimes } = rank(stiff) > rank(free) ? stiff : free;
    starts.push(rank(stiff) > rank(free) ? "stiff" : "free");
    const stepV = options.displayStepV ?? 0;
    const sigmaV = Math.max(Math.hypot(noise.noise.whiteV, noise.noise.colouredV), stepV / Math.sqrt(12));
    const coarse = Math.max(1, stepV / 2 / sigmaV);
    const score = result.score / coarse;
    const probability = scanProbability(field, bankOf(field.stepS), result.trainCounts, {
      dof: degreesOfFreedom(design, [...known.templates, templateOf(onTimes)]),
      random: options.random,
    });
    const pValue = probability.pValue(rankOf(score, result.rarity));
    const depthV = result.score * result.uDepthV;
    const train = { onTimes, score, pValue, depthV, rarity: result.rarity };
    // An imperfect fit of a deep train leaves an eighth of it at the most.
    if (pValue > options.falseAlarmRate || depthV <= 0.12 * deepestV) {
      const rankAt = probability.criticalRank(options.falseAlarmRate);
      // A train ranks by the root of its squared score less twice its kind's rarity.
      const shareOf = (one: (typeof found)[number]) => Math.min(1, Math.sqrt(rankAt ** 2 + 2 * one.rarity) / one.score);
      const trains = found.map((one) => ({ ...one, criticalShare: shareOf(one) }));
      const best = found.length === 0 ? { ...train, criticalShare: shareOf(train) } : null;
      return { trains, best, noise: noise.noise, starts };
    }
    deepestV = Math.max(deepestV, depthV);
    found.push({ ...train, onTimes: takeOut(design, known, train, depthV, noise.noise, options.lagS) });
  }
}

const beats = (fromS: number, onS: number, offS: number, count: number) =>
  Array.from({ length: count }, (_, k) => fromS + k * (onS + offS)).map((t) => [t, t + onS] as const);
type Fall = readonly (readonly [readonly (readonly [number, number])[], number])[];

/** Half a minute or more at 3 Hz in noise that wanders, with dips of these depths. */
function series(seed: number, dips: Fall, durationS = 50) {
  return noisySeries(
    { name: "wandering", whiteV: 0.01, colouredV: 0.004, walkVPerSqrtS: 0.004 },
    {
      seed,
      rateHz: 3,
      durationS,
      fallV: (t) =>
        dips.reduce((sum, [times, depthV]) => sum + (times.some(([a, b]) => t > a && t < b) ? depthV : 0), 0),
    },
  );
}

describe("searchTrains() of a short recording beside its steps one by one", () => {
  const options = { falseAlarmRate: 0.01, power: 0.95, lagS: 0.3, displayStepV: null, cadence: null };
  const started = new Set<string>();
  const counts = new Set<number>();
  it.each<[string, WorkingSeries, Partial<SearchOptions>]>([
    ["nothing there", series(1, [], 40), {}],
    ["clear dips", series(2, [[beats(12, 5, 5, 3), 0.1]]), {}],
    ["dips of a coarse display", series(3, [[beats(12, 5, 5, 3), 0.1]]), { displayStepV: 0.06 }],
    ["faint dips", series(4, [[beats(12, 5, 5, 3), 0.03]]), {}],
    ["faint dips of a stated cadence", series(6, [[beats(12, 5, 5, 3), 0.04]]), { cadence: { onS: 5, offS: 5 } }],
    ["a meter of which nobody told the lag", series(7, [[beats(12, 5, 5, 3), 0.1]]), { lagS: undefined }],
    [
      "two trains",
      series(8, [
        [beats(6, 4, 4, 3), 0.2],
        [beats(30, 6, 5, 2), 0.08],
      ]),
      {},
    ],
    [
      "a train and one a ninth as deep, which may be a remnant",
      series(9, [
        [beats(6, 4, 4, 3), 0.9],
        [beats(30, 6, 5, 2), 0.1],
      ]),
      {},
    ],
  ])("finds the same: %s", (_, recording, more) => {
    const found = searchTrains(recording, { ...options, ...more, random: randomGenerator(4) });
    const { starts, ...hand } = byHand(recording, { ...options, ...more, random: randomGenerator(4) });
    for (const start of starts) started.add(start);
    for (const part of ["whiteV", "colouredV", "colouredTimeS", "walkVPerSqrtS", "bendVPerS15"] as const) {
      expect(found.noise[part] / hand.noise[part], part).toBeCloseTo(1, 6);
    }
    expect(found.trains).toHaveLength(hand.trains.length);
    expect(found.best === null).toBe(hand.best === null);
    const [trains, hands] = [found, hand].map(({ trains, best }) => [...trains, ...(best === null ? [] : [best])]);
    trains!.forEach((train, k) => {
      const { onTimes, score, pValue, criticalShare, depthV } = hands![k]!;
      expect(train.criticalShare).toBeCloseTo(criticalShare, 6);
      expect(train.score / score).toBeCloseTo(1, 7);
      expect(train.depthV / depthV).toBeCloseTo(1, 7);
      // The chance of a score of 30 falls by 30 times as much as that grows.
      expect(train.pValue / pValue).toBeCloseTo(1, 4);
      expect(train.onTimes).toHaveLength(onTimes.length);
      train.onTimes.forEach(({ onsetS, releaseS }, j) => {
        expect(onsetS).toBeCloseTo(onTimes[j]!.onsetS, 6);
        expect(releaseS).toBeCloseTo(onTimes[j]!.releaseS, 6);
      });
    });
    counts.add(found.trains.length);
  });

  it("has met both starts as the better one, and no train, one and two", () => {
    expect([...counts].sort()).toEqual([0, 1, 2]);
    expect([...started].sort()).toEqual(["free", "stiff"]);
  });
});
