import { describe, expect, it } from "vitest";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { rhythmGoesOn } from "../../../src/core/detection/rhythm-beyond.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";

const noise = { whiteV: 0.03, colouredV: 0.005, colouredTimeS: 1, walkVPerSqrtS: 1e-3, bendVPerS15: 1e-6 };
const shape = plainShape(0.3);
const beats = (onS: number, ...onsets: number[]): OnTime[] =>
  onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + onS }));
const timesS = Float64Array.from({ length: 110 }, (_, i) => i);
const readingCounts = new Float64Array(timesS.length).fill(1);
const covariance = denseCovariance(timesS, readingCounts, noise);
const dipOf = (onTimes: readonly OnTime[]) => dipTemplate(timesS, 0, onTimes, shape);

describe("rhythmGoesOn() beside other loads, by dense least squares", () => {
  const own = beats(4, 40, 50, 60);
  const places = beats(4, 20, 30, 70, 80);
  const others = [beats(3, 23, 74), beats(5, 33, 66, 90)];

  it.each([0, 1, 2])("is so where one depth beyond is more than half of the own and sure: %d other loads", (count) => {
    const answers = { yes: 0, no: 0 };
    for (let seed = 1; seed <= 24; seed++) {
      const random = randomGenerator(seed);
      const dips = [own, places, ...others.slice(0, count)].map(dipOf);
      const depthsV = [seed % 2 === 0 ? 0.05 : 0.015, 0.008 * (seed % 6), 0.1, 0.2];
      const valuesV = timesS.map((_, i) =>
        dips.reduce((v, dip, k) => v + depthsV[k]! * dip[i]!, 24 + 0.03 * random.normal()),
      );
      const series = { timesS, valuesV, readingCounts, blockS: 0, outlierCount: 0 };
      const design = new ReadingsDesign({ ...series, readingScatterV: 0.03, medianIntervalS: 1 });
      const responses = [own, ...others.slice(0, count)].map((onTimes) => ({
        onTimes,
        refined: null,
        shape,
        template: dipOf(onTimes),
      })) as unknown as MarkedResponse[];
      const told = rhythmGoesOn({ design, fit: { noise }, responses } as unknown as MarkedDetection, responses[0]!);
      const columns = [timesS.map(() => 1), timesS.map((t) => t - 50), ...dips].map((column) => Array.from(column));
      const fit = generalizedLeastSquares(covariance, columns, valuesV);
      const [ownV, beyondV] = [fit.estimates[2]!, fit.estimates[3]!];
      // 2.33: 1 % of the normal distribution.
      const isSo = beyondV > ownV / 2 && beyondV > 2.33 * Math.sqrt(fit.estimateCovariance[3]![3]!);
      expect(told, `seed ${seed}`).toBe(isSo);
      answers[isSo ? "yes" : "no"] += 1;
    }
    expect(Math.min(answers.yes, answers.no)).toBeGreaterThan(2);
  });
});
