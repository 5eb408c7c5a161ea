import { describe, expect, it } from "vitest";
import type { MarkedLoad } from "../../../src/core/detection/load-work.js";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import { mixtureMoments } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const shape = { shiftS: 0, lagS: 0.3, inrush: 0, settleS: 3, polarization: 0.1, polarizationS: 20 };
const beats = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
const clear: MarkedLoad = { id: "clear", onTimes: beats(10, 20, 30), kind: "resistive", timeUncertaintyS: 0.1 };
const faint: MarkedLoad = { id: "faint", onTimes: beats(45, 55, 65), kind: "resistive", timeUncertaintyS: 0.1 };
const timesS = Float64Array.from({ length: 320 }, (_, i) => i / 4);

/** Readings with 0.3 V of the clear load, 8 mV of the faint one, and white noise of 10 mV times a factor. */
function seriesOf(factorAt: (t: number) => number, given: Float64Array | null, seed = 7) {
  const random = randomGenerator(seed);
  const [a, b] = [clear, faint].map(({ onTimes }) => dipTemplate(timesS, 0, onTimes, shape));
  return {
    timesS,
    valuesV: timesS.map((t, i) => 24 + 0.3 * a![i]! + 0.008 * b![i]! + 0.01 * factorAt(t) * random.normal()),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 0.25,
    noiseFactors: given,
    noiseRatio: given === null ? 1 : 5,
  };
}
const context = () => ({ meter: { lagS: 0.3 }, random: randomGenerator(1) });
const detect = (series: ReturnType<typeof seriesOf>, loads = [clear, faint]) => detectMarked(series, loads, context());
const depthsOf = ({ responses }: ReturnType<typeof detect>) =>
  new Map(responses.map(({ id, depth }) => [id, mixtureMoments(depth)]));

describe("detectMarked() of a clear load beside a faint one", () => {
  const plain = detect(seriesOf(() => 1, null));

  it("fits the shape of the clear one and of it alone", () => {
    expect(plain.responses.map(({ refined }) => refined !== null)).toEqual([true, false]);
    for (const [id, depthV] of [
      ["clear", 0.3],
      ["faint", 0.008],
    ] as const) {
      const { mean, sd } = depthsOf(plain).get(id)!;
      expect(Math.abs(mean - depthV)).toBeLessThan(4 * sd);
      expect(sd).toBeLessThan(0.01);
    }
    expect(plain.fit.noise.whiteV).toBeGreaterThan(0.007);
    expect(plain.fit.noise.whiteV).toBeLessThan(0.013);
  });

  it("says the same whichever of them is told first", () => {
    const turned = depthsOf(
      detect(
        seriesOf(() => 1, null),
        [faint, clear],
      ),
    );
    for (const [id, { mean, sd }] of depthsOf(plain)) {
      // Shapes and noise are fitted in turn until the likelihood gains less than 1: a part of the uncertainty.
      expect(Math.abs(turned.get(id)!.mean - mean) / sd).toBeLessThan(0.2);
      expect(turned.get(id)!.sd / sd).toBeCloseTo(1, 1);
    }
  });

  it("takes no swell for one that the edges of the clear load make", () => {
    // As the scatter from reading to reading shows it: large where the clear load is switched.
    const swollen = timesS.map((t) => (t > 8 && t < 37 ? 3 : 0.8));
    const found = detect(seriesOf(() => 1, swollen));
    expect(found.design.series.noiseFactors).toBeNull();
    expect(found.design.series.noiseRatio).toBe(1);
    expect(depthsOf(found)).toEqual(depthsOf(plain));
  });

  it("keeps a swell that is left beside the dips, as what is left shows it", () => {
    const factorAt = (t: number) => (t > 42 ? 6 : 1);
    const found = detect(seriesOf(factorAt, new Float64Array(timesS.length).fill(1)));
    const { noiseFactors, noiseRatio } = found.design.series;
    expect(noiseRatio).toBeGreaterThan(3);
    const meanOf = (from: number, to: number) => {
      const own = [...noiseFactors!].filter((_, i) => timesS[i]! >= from && timesS[i]! < to);
      return own.reduce((sum, value) => sum + value, 0) / own.length;
    };
    expect(meanOf(50, 80) / meanOf(5, 35)).toBeGreaterThan(3);
  });

  it("takes a swell as told where no load is clear enough to make one", () => {
    const given = timesS.map((t) => (t > 40 ? 1.6 : 0.7));
    const gone = detectMarked(
      { ...seriesOf(() => 1, given), valuesV: timesS.map((_, i) => 24 + 0.01 * (((i * 7) % 5) - 2)) },
      [faint],
      context(),
    );
    expect(gone.responses[0]!.refined).toBeNull();
    expect(gone.design.series.noiseFactors).toBe(given);
  });
});
