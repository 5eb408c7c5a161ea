import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import { edgeField } from "../../../src/core/detection/edge-field.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { searchTrains } from "../../../src/core/detection/search.js";
import { openBank } from "../../../src/core/detection/train-bank.js";
import { trainEnergy } from "../../../src/core/detection/train-scan.js";
import type { WorkingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { noisySeries } from "./noise-kinds.js";

const white = { name: "white", whiteV: 0.02, colouredV: 0, walkVPerSqrtS: 0 };
const NOTHING = { templates: [], onTimes: [] };
type Cadence = { onS: number; offS: number; switchingCount?: number };
const options = { falseAlarmRate: 0.01, power: 0.95, lagS: 0.3, displayStepV: null, cadence: null };
const search = (series: WorkingSeries, more: Partial<typeof options> | { cadence: Cadence | null } = {}) =>
  searchTrains(series, { ...options, ...more, random: randomGenerator(1) });
/** From any table of the normal distribution. */
const Z95 = 1.6448536;
const Z99 = 2.3263479;
/** Critical and detectable depth differ by the quantile of the power alone: so the uncertainty that was told. */
const toldV = ({ criticalDepthV, minimumDetectableDepthV }: ReturnType<typeof search>) =>
  (minimumDetectableDepthV - criticalDepthV) / Z95;
/** Readings that lie closer together towards the end, so that a step to the right tells more. */
const uneven = (durationS: number): WorkingSeries => {
  const series = noisySeries(white, { seed: 1, rateHz: 4, durationS });
  const endS = series.timesS.at(-1)!;
  return { ...series, timesS: series.timesS.map((t) => (2 * t) / (1 + t / endS)) };
};

describe("searchTrains(): limits of a recording without dips", () => {
  it.each<[string, number, Cadence | null, number, number, number]>([
    ["three switchings of five seconds", 41, null, 5, 5, 3],
    ["two, where three have no room", 22, null, 5, 5, 2],
    ["one, where two have none", 13, null, 5, 5, 1],
    ["a stated cadence and count", 60, { onS: 4, offS: 7, switchingCount: 4 }, 4, 7, 4],
    ["a stated cadence, three of it", 60, { onS: 7, offS: 4 }, 7, 4, 3],
  ])("are those of a train in the middle: %s", (_, durationS, cadence, onS, offS, count) => {
    const series = uneven(durationS);
    const found = search(series, { cadence });
    expect(found.trains).toEqual([]);
    const field = edgeField(new ReadingsDesign(series), found.noise, 0.3, NOTHING);
    const [onSteps, offSteps] = [Math.round(onS / field.stepS), Math.round(offS / field.stepS)];
    const steps = count * onSteps + (count - 1) * offSteps;
    // As many grid points before as behind; one fewer before where they are odd.
    const first = Math.floor((field.covariance.size - steps) / 2);
    const energy = trainEnergy(field, { rhythm: { onSteps, offSteps, rarity: 0 }, switchingCount: count, first });
    expect(toldV(found) * Math.sqrt(energy)).toBeCloseTo(1, 6);
    expect((found.surelyDetectableDepthV - found.criticalDepthV) / (Z99 * toldV(found))).toBeCloseTo(1, 6);
  });

  it("are infinite where no train has room", () => {
    const found = search(noisySeries(white, { seed: 1, rateHz: 8, durationS: 1.5 }));
    expect(found).toMatchObject({ trains: [], best: null });
    expect(found.criticalDepthV).toBe(Number.POSITIVE_INFINITY);
    expect(found.minimumDetectableDepthV).toBe(Number.POSITIVE_INFINITY);
    expect(found.surelyDetectableDepthV).toBe(Number.POSITIVE_INFINITY);
  });

  it("count how trains scatter where there are gaps, where few places tell it, and nowhere else", () => {
    const scattered = { cut: 0, whole: 0 };
    // A hum of 12 s makes trains of some beats scatter by more than the noise about it.
    const fallV = (t: number) => 0.01 * Math.sin((2 * Math.PI * t) / 12);
    for (let seed = 1; seed <= 5; seed++) {
      for (const isCut of [false, true]) {
        const whole = noisySeries(white, { seed, rateHz: 2, durationS: 240, fallV });
        const kept = (values: Float64Array) =>
          values.filter((_, i) => !isCut || whole.timesS[i]! < 60 || whole.timesS[i]! > 90);
        const [timesS, valuesV] = [kept(whole.timesS), kept(whole.valuesV)];
        const series = { ...whole, timesS, valuesV, readingCounts: kept(whole.readingCounts) };
        const found = search(series);
        if (found.trains.length > 0) continue;
        const field = edgeField(new ReadingsDesign(series), found.noise, 0.3, NOTHING);
        const { scatter } = scanTrains(field, openBank(field.stepS))!;
        if (scatter > 1.05) scattered[isCut ? "cut" : "whole"] += 1;
        const steps = Math.round(5 / field.stepS);
        const rhythm = { onSteps: steps, offSteps: steps, rarity: 0 };
        const first = Math.floor((field.covariance.size - 5 * steps) / 2);
        const uV = 1 / Math.sqrt(trainEnergy(field, { rhythm, switchingCount: 3, first }));
        expect(toldV(found) / uV, `seed ${seed}`).toBeCloseTo(isCut ? Math.max(1, scatter) : 1, 6);
      }
    }
    expect(scattered.cut).toBeGreaterThan(0);
    expect(scattered.whole).toBeGreaterThan(0);
  });

  it("of a display between two digits count its flicker of half a step", () => {
    const series = noisySeries(white, { seed: 1, rateHz: 4, durationS: 41 });
    const plain = search(series);
    const sigmaV = Math.hypot(plain.noise.whiteV, plain.noise.colouredV);
    for (const stepV of [sigmaV, 1.9 * sigmaV, 2.2 * sigmaV, 3 * sigmaV, 3.6 * sigmaV, 10 * sigmaV]) {
      const found = search(series, { displayStepV: stepV } as object);
      // Half a step over the noise, which is at least a step over the root of twelve: never more than the root of three.
      const coarser = Math.max(1, Math.min(stepV / 2 / sigmaV, Math.sqrt(3)));
      expect(toldV(found) / toldV(plain) / coarser, `${stepV / sigmaV} sigma`).toBeCloseTo(1, 6);
      // The best train stands out by as much less, and is as deep.
      expect(plain.best!.score / found.best!.score / coarser).toBeCloseTo(1, 6);
      expect(found.best!.depthV / plain.best!.depthV).toBeCloseTo(1, 9);
    }
  });

  it.each([
    ["beside the middle", 2, 1, 2],
    ["in the middle", 1, 2, 2],
    ["beside a middle that is calmer than the rest", 2, 0.5, 4],
    ["nowhere", 1, 1, 1],
  ])("of noise that swells count its worst: %s", (_, early, middle, worst) => {
    const plain = noisySeries(white, { seed: 1, rateHz: 4, durationS: 60 });
    const noiseFactors = plain.timesS.map((t) => (t < 15 ? early : t > 25 && t < 35 ? middle : 1));
    const levelV = (i: number) => 24.2 - 0.2 * Math.exp(-plain.timesS[i]! / 80);
    const series = {
      ...plain,
      noiseFactors,
      valuesV: plain.valuesV.map((v, i) => levelV(i) + (v - levelV(i)) * noiseFactors[i]!),
    };
    const found = search(series);
    const field = edgeField(new ReadingsDesign(series), found.noise, 0.3, NOTHING);
    expect(found.trains).toEqual([]);
    const steps = Math.round(5 / field.stepS);
    const rhythm = { onSteps: steps, offSteps: steps, rarity: 0 };
    const first = Math.floor((field.covariance.size - 5 * steps) / 2);
    const energy = trainEnergy(field, { rhythm, switchingCount: 3, first });
    expect((toldV(found) * Math.sqrt(energy)) / worst).toBeCloseTo(1, 6);
  });
});
