import { describe, expect, it } from "vitest";
import type { MarkedLoad } from "../../../src/core/detection/load-work.js";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import { noiseFactors } from "../../../src/core/noise/noise-factors.js";
import { mixtureMoments } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const timesS = Float64Array.from({ length: 300 }, (_, i) => i * 0.2);
const marked = (firstS: number): OnTime[] => [0, 15, 30].map((s) => ({ onsetS: firstS + s, releaseS: firstS + s + 8 }));
const load = (id: string, onTimes: readonly OnTime[]): MarkedLoad => ({
  id,
  onTimes,
  kind: "resistive",
  timeUncertaintyS: 0.2,
});
const NOISE_V = 0.005;

/** Loads whose on-times are longer than marked, and shorter in turn, by so much at either end. */
function judged(
  loads: readonly { readonly firstS: number; readonly depthV: number }[],
  offS: number,
  factors: Float64Array | null = null,
) {
  const random = randomGenerator(3);
  const shape = { shiftS: 0, lagS: 0.1, inrush: 0, settleS: 1, polarization: 0.3, polarizationS: 10 };
  const dips = loads.map(({ firstS, depthV }) => {
    const real = marked(firstS).map(({ onsetS, releaseS }, k) => {
      const by = k % 2 === 0 ? offS : -offS;
      return { onsetS: onsetS - by, releaseS: releaseS + by };
    });
    return dipTemplate(timesS, 0, real, shape).map((v) => depthV * v);
  });
  const series = {
    timesS,
    valuesV: timesS.map(
      (_, i) => 24 + dips.reduce((sum, dip) => sum + dip[i]!, 0) + NOISE_V * (factors?.[i] ?? 1) * random.normal(),
    ),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: NOISE_V,
    medianIntervalS: 0.2,
    noiseFactors: factors,
  };
  const told = loads.map(({ firstS }, k) => load(`load ${k}`, marked(firstS)));
  return detectMarked(series, told, { meter: undefined, random: randomGenerator(1) });
}

describe("detectMarked() of clear dips whose marks miss", () => {
  it.each([0.3, 1, 3])(
    "by three times the hand's uncertainty finds depth, times and noise of %d V all the same",
    (depthV) => {
      const { responses, fit } = judged([{ firstS: 12, depthV }], 0.6);
      const { mean, sd } = mixtureMoments(responses[0]!.depth);
      // Some 120 readings within and 180 beside: 0.6 mV, and what shape and drift leave open.
      expect(Math.abs(mean - depthV)).toBeLessThan(4 * sd);
      expect(sd).toBeLessThan(0.004);
      responses[0]!.refined!.onTimes.forEach(({ onsetS, releaseS }, k) => {
        const by = k % 2 === 0 ? 0.6 : -0.6;
        expect(Math.abs(onsetS - marked(12)[k]!.onsetS + by)).toBeLessThan(0.2);
        expect(Math.abs(releaseS - marked(12)[k]!.releaseS - by)).toBeLessThan(0.2);
      });
      // White noise of 5 mV, known from 300 readings to 4 %; edges left over would pass for a walk of a tenth of the dip.
      expect(Math.abs(fit.noise.whiteV / NOISE_V - 1)).toBeLessThan(0.25);
      expect(fit.noise.walkVPerSqrtS).toBeLessThan(0.002);
    },
  );

  it("finds two loads so, each in its place", () => {
    const depths = [0.5, 0.4];
    const { responses } = judged(
      [
        { firstS: 5, depthV: depths[0]! },
        { firstS: 14.5, depthV: depths[1]! },
      ],
      0.5,
    );
    responses.forEach(({ depth, id }, k) => {
      const { mean, sd } = mixtureMoments(depth);
      expect(Math.abs(mean - depths[k]!), id).toBeLessThan(4 * sd);
      expect(sd, id).toBeLessThan(0.01);
    });
  });

  it("judges in steady noise where only the edges of clear dips made it seem to swell", () => {
    // As a series says that took the dips' edges for noise three times as large.
    const told = timesS.map((t) => (t > 10 && t < 30 ? 3 : 1));
    const swelled = judged([{ firstS: 12, depthV: 0.5 }], 0.2, null);
    const random = randomGenerator(3);
    const { design } = swelled;
    const again = detectMarked({ ...design.series, noiseFactors: told, noiseRatio: 3 }, [load("load 0", marked(12))], {
      meter: undefined,
      random,
    });
    // What is left beside the dips is steady: the factors are not believed.
    expect(again.design.series.noiseFactors ?? null).toBeNull();
    const [one, other] = [swelled, again].map(({ responses }) => mixtureMoments(responses[0]!.depth));
    expect(other!.mean).toBeCloseTo(one!.mean, 6);
    expect(other!.sd).toBeCloseTo(one!.sd, 6);
  });

  it("believes noise that swells beside faint dips, and says how it does beside clear ones", () => {
    const swells = timesS.map((t) => (t < 30 ? 1 : 4));
    const faint = judged([{ firstS: 12, depthV: 0.002 }], 0, swells);
    expect(faint.design.series.noiseFactors).toBe(swells);
    const clear = judged([{ firstS: 12, depthV: 0.6 }], 0, swells);
    // As the readings less the dips that are in them say: the same noise without them.
    const { valuesV, readingCounts } = judged([], 0, swells).design.series;
    const { factors, ratio } = noiseFactors(timesS, valuesV, readingCounts)!;
    clear.design.series.noiseFactors!.forEach((factor, i) => {
      expect(Math.abs(factor / factors[i]! - 1), `reading ${i}`).toBeLessThan(0.25);
    });
    expect(Math.abs(clear.design.series.noiseRatio! / ratio - 1)).toBeLessThan(0.25);
    expect(clear.design.series.noiseRatio).toBeGreaterThan(2);
  });
});
