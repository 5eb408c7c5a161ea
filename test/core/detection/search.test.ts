import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import { scanProbability } from "../../../src/core/detection/clump-probability.js";
import { edgeField } from "../../../src/core/detection/edge-field.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { searchTrains } from "../../../src/core/detection/search.js";
import { searchSeries } from "../../../src/core/detection/search-series.js";
import { cadenceBank, openBank } from "../../../src/core/detection/train-bank.js";
import { rankOf, scoreAtRank } from "../../../src/core/detection/train-scan.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { fallOf, noiseKinds, noisySeries } from "./noise-kinds.js";

const NOTHING = { templates: [], onTimes: [] };
const options = (seed: number, falseAlarmRate = 0.01) => ({
  falseAlarmRate,
  power: 0.95,
  lagS: 0.2,
  cadence: null,
  displayStepV: null,
  random: randomGenerator(seed),
});

const noise = { whiteV: 0.02, colouredV: 1e-6, colouredTimeS: 1, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
const white = { name: "white", whiteV: 0.02, colouredV: 0, walkVPerSqrtS: 0 };

describe("rankOf()", () => {
  it("takes twice the rarity off the squared score, and never turns a likely train round", () => {
    expect(rankOf(5, 0)).toBe(5);
    // A 3-4-5 triangle: 25 - 2 x 4.5 = 16.
    expect(rankOf(5, 4.5)).toBe(4);
    expect(scoreAtRank(4, 4.5)).toBe(5);
    expect(rankOf(2, 4.5)).toBe(0);
    expect(rankOf(-2, 4.5)).toBe(-2);
  });
});

describe("scanProbability()", () => {
  it("is the sum of the single chances over the size of a clump, which is known at two ranks", () => {
    const design = new ReadingsDesign(noisySeries(white, { seed: 1, rateHz: 2, durationS: 40 }));
    const { pValue } = scanProbability(edgeField(design, noise, 0.3, NOTHING), openBank(0.3), new Map([[0, 1000]]), {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(1),
      clumps: [Math.log(0.5), Math.log(0.02)],
    });
    // Tables of the normal tail: 3.1671e-5 at 4, 1.0171e-6 at 4.75, 1.8990e-8 at 5.5; the root of 0.5 x 0.02 is 0.1.
    expect(pValue(4) / (3.1671e-2 * 0.5) - 1).toBeCloseTo(-(3.1671e-2 * 0.5) / 2, 3);
    expect(pValue(4.75) / (1.0171e-3 * 0.1)).toBeCloseTo(1, 3);
    expect(pValue(5.5) / (1.899e-5 * 0.02)).toBeCloseTo(1, 3);
  });

  it("holds its rate where usual trains are favoured", () => {
    const drawn = (seed: number) =>
      edgeField(new ReadingsDesign(noisySeries(white, { seed, rateHz: 2, durationS: 40 })), noise, 0.3, NOTHING);
    const first = drawn(1);
    const bank = openBank(first.stepS);
    const probability = scanProbability(first, bank, scanTrains(first, bank)!.trainCounts, {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(3),
    });
    const best = Array.from({ length: 160 }, (_, k) => scanTrains(drawn(300 + k), bank)!);
    const critical = probability.criticalRank(0.1);
    const count = best.filter(({ score, rarity }) => rankOf(score, rarity) >= critical).length;
    // 16 expected; four standard deviations, and a third for the 48 draws of the clump.
    expect(count).toBeGreaterThanOrEqual(2);
    expect(count).toBeLessThanOrEqual(36);
  });

  it("is the share of drawn recordings whose best train reaches the critical score", () => {
    const drawn = (seed: number) => {
      const one = noisySeries(white, { seed, rateHz: 2, durationS: 36 });
      const valuesV = one.valuesV.map((v, i) => v + 0.2 * Math.exp(-one.timesS[i]! / 80));
      return edgeField(new ReadingsDesign({ ...one, valuesV }), noise, 0.3, NOTHING);
    };
    const first = drawn(1);
    const bank = cadenceBank({ onS: 4, offS: 4, switchingCount: 2 }, first.stepS);
    const { trainCounts } = scanTrains(first, bank)!;
    const probability = scanProbability(first, bank, trainCounts, {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(2),
    });
    const best = Array.from({ length: 160 }, (_, k) => scanTrains(drawn(100 + k), bank)!.score);
    for (const [rate, least, most] of [
      // 160 recordings, four standard deviations, and a third for the 48 draws of the clump.
      [0.2, 10, 60],
      [0.05, 1, 24],
    ] as const) {
      const critical = probability.criticalRank(rate);
      expect(Math.abs(probability.pValue(critical) / rate - 1)).toBeLessThan(1e-3);
      const count = best.filter((score) => score >= critical).length;
      expect(count, `rate ${rate}`).toBeGreaterThanOrEqual(least);
      expect(count, `rate ${rate}`).toBeLessThanOrEqual(most);
    }
  });
});

describe("train banks", () => {
  it("openBank() holds every rhythm within 5 % of its on-time, from 2 to 19 s", () => {
    const stepS = 0.3;
    const { rhythms } = openBank(stepS);
    for (let onS = 2; onS <= 19; onS += 0.5) {
      const nearest = Math.min(...rhythms.map(({ onSteps }) => Math.abs(onSteps * stepS - onS)));
      // Half of a ratio of 1.09, or half a grid step.
      expect(nearest, `${onS} s`).toBeLessThanOrEqual(Math.max(0.05 * onS, stepS / 2) + stepS / 2);
    }
  });

  it("openBank() favours what a hand usually does, and rules out nothing", () => {
    const { rhythms, countRarities } = openBank(0.3);
    const rarityOf = (onS: number, offS: number) =>
      rhythms.reduce((best, one) => {
        const away = ({ onSteps, offSteps }: typeof one) =>
          Math.abs(onSteps * 0.3 - onS) + Math.abs(offSteps * 0.3 - offS);
        return away(one) < away(best) ? one : best;
      }).rarity;
    expect(rarityOf(6, 6)).toBe(0);
    expect(rarityOf(15, 15)).toBeGreaterThan(1);
    expect(rarityOf(6, 10)).toBeGreaterThan(1);
    expect(countRarities[0]).toBeGreaterThan(countRarities[2]!);
    expect(Math.max(...rhythms.map(({ rarity }) => rarity))).toBeLessThanOrEqual(5);
  });

  it("cadenceBank() holds the stated cadence and its count alone, each rhythm once", () => {
    const bank = cadenceBank({ onS: 6, offS: 9, switchingCount: 4 }, 0.3);
    expect(bank.rhythms).toContainEqual({ onSteps: 20, offSteps: 30, rarity: 0 });
    expect([bank.fewestSwitchings, bank.mostSwitchings]).toEqual([4, 4]);
    expect(new Set(bank.rhythms.map(({ onSteps, offSteps }) => `${onSteps} ${offSteps}`)).size).toBe(
      bank.rhythms.length,
    );
  });
});

describe("searchTrains()", () => {
  const switchings = [
    [14.2, 19.1],
    [24.3, 29.2],
    [34.1, 39.2],
  ] as const;

  it.each([
    ["a faint train", 0.12],
    ["one fifty times the noise and more", 3],
  ])("finds %s and nothing beside it", (_name, depthV) => {
    const fall = fallOf(switchings, 0.25);
    for (const seed of [1]) {
      const series = noisySeries(noiseKinds[1]!, { seed, rateHz: 10, durationS: 60, fallV: (t) => depthV * fall(t) });
      const { trains } = searchTrains(series, options(seed));
      const found = trains.flatMap(({ onTimes }) => onTimes).sort((a, b) => a.onsetS - b.onsetS);
      expect(found.length, `${JSON.stringify(found)}`).toBe(3);
      found.forEach(({ onsetS, releaseS }, k) => {
        // Two steps of the grid, and what a hand's rhythm is off.
        expect(Math.abs(onsetS - switchings[k]![0])).toBeLessThan(0.8);
        expect(Math.abs(releaseS - switchings[k]![1])).toBeLessThan(0.8);
      });
    }
  });

  it("finds a train in the midst of a longer recording", () => {
    const shifted = switchings.map(([onS, offS]) => [onS + 180, offS + 180] as const);
    const fall = fallOf(shifted);
    const series = noisySeries(noiseKinds[0]!, { seed: 4, rateHz: 5, durationS: 420, fallV: (t) => 0.15 * fall(t) });
    const { trains } = searchTrains(series, options(4));
    const found = trains.flatMap(({ onTimes }) => onTimes).sort((a, b) => a.onsetS - b.onsetS);
    expect(found.map(({ onsetS }) => Math.round((onsetS - 180) / 10))).toEqual([1, 2, 3]);
  });

  it("finds nothing in noise, but for false alarms at the stated rate", () => {
    const rate = 0.15;
    let alarms = 0;
    for (let seed = 1; seed <= 16; seed++) {
      const series = noisySeries(noiseKinds[seed % noiseKinds.length]!, { seed: 500 + seed, rateHz: 5, durationS: 50 });
      if (searchTrains(series, options(seed, rate)).trains.length > 0) alarms += 1;
    }
    // 2.4 expected; more than 8 have a chance of 3e-4.
    expect(alarms).toBeLessThanOrEqual(8);
  });

  it("states larger limits for a noisier recording and for more certainty", () => {
    const quiet = noisySeries({ ...noiseKinds[0]!, whiteV: 0.01 }, { seed: 8, rateHz: 5, durationS: 50 });
    const noisy = noisySeries({ ...noiseKinds[0]!, whiteV: 0.05 }, { seed: 8, rateHz: 5, durationS: 50 });
    const [one, five] = [quiet, noisy].map((series) => searchTrains(series, options(8)));
    expect(one!.criticalDepthV).toBeLessThan(one!.minimumDetectableDepthV);
    expect(one!.minimumDetectableDepthV).toBeLessThan(one!.surelyDetectableDepthV);
    expect(five!.minimumDetectableDepthV).toBeGreaterThan(3 * one!.minimumDetectableDepthV);
  });

  it("takes no burst of four times the noise for dips", () => {
    let found = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const random = randomGenerator(seed);
      const burstS = 10 + 370 * random.uniform();
      const lengthS = 8 + 15 * random.uniform();
      let ar = 0;
      const timesS = Float64Array.from({ length: 4000 }, (_, i) => i / 10);
      const voltagesV = timesS.map((t) => {
        ar = 0.8 * ar + 0.6 * random.normal();
        const size = t > burstS && t < burstS + lengthS ? 4 : 1;
        return 24.6 - 0.001 * t + size * (0.015 * random.normal() + 0.015 * ar);
      });
      const series = searchSeries({ timesS, voltagesV }, null)!;
      found += searchTrains(series, options(seed)).trains.length > 0 ? 1 : 0;
    }
    // 1 % each; two or more of 12 by chance: 0.6 %.
    expect(found).toBeLessThanOrEqual(1);
  });
});
