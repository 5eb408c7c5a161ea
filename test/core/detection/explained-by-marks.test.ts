import { describe, expect, it } from "vitest";
import { explainedByMarks } from "../../../src/core/detection/explained-by-marks.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";

const noise = { whiteV: 0.03, colouredV: 0.005, colouredTimeS: 1, walkVPerSqrtS: 1e-3, bendVPerS15: 1e-6 };
const shape = plainShape(0.3);
const beats = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
const timesS = Float64Array.from({ length: 140 }, (_, i) => i);
const readingCounts = new Float64Array(timesS.length).fill(1);
const covariance = denseCovariance(timesS, readingCounts, noise);
const dipOf = (onTimes: readonly OnTime[]) => dipTemplate(timesS, 0, onTimes, shape);
const line = [timesS.map(() => 1), timesS.map((t) => t - 70)];

/** Depth over its uncertainty of the first of these dips, beside the others, by dense least squares. */
function scoreOf(valuesV: Float64Array, dips: readonly Float64Array[]): number {
  const columns = [...line, ...dips].map((column) => Array.from(column));
  const fit = generalizedLeastSquares(covariance, columns, valuesV);
  return fit.estimates[2]! / Math.sqrt(fit.estimateCovariance[2]![2]!);
}

const own = beats(30, 50, 70);
/** Dips as noise moves them, two of three with one that is none, and others. */
const trains = {
  moved: beats(32, 49, 71),
  partly: beats(32, 52, 110),
  others: beats(34, 56, 78),
  far: beats(82, 100, 118),
};

function seriesOf(valuesV: Float64Array) {
  return { timesS, valuesV, readingCounts, blockS: 0, outlierCount: 0, readingScatterV: 0.03, medianIntervalS: 1 };
}

const random = randomGenerator(11);
/** Readings with these dips in white noise of 30 mV. */
const readings = (dips: readonly (readonly [readonly OnTime[], number])[], noiseV = 0.03) => {
  const valuesV = timesS.map(() => 24 + noiseV * random.normal());
  for (const [onTimes, depthV] of dips)
    dipOf(onTimes).forEach((v, i) => {
      valuesV[i]! += depthV * v;
    });
  return valuesV;
};

const told = (
  valuesV: Float64Array,
  train: readonly OnTime[],
  found: { score: number; criticalShare: number },
  response: Partial<MarkedResponse> = {},
) =>
  explainedByMarks(
    seriesOf(valuesV),
    noise,
    { template: dipOf(train), ...found },
    { onTimes: own, refined: null, shape, ...response },
    0.01,
  );

describe("explainedByMarks()", () => {
  it.each(Object.entries(trains))(
    "weighs the two stories as dense least squares does: dips that are %s",
    (_, train) => {
      const answers = { yes: 0, no: 0 };
      for (let seed = 1; seed <= 40; seed++) {
        const valuesV = readings([
          [own, seed % 4 === 0 ? 0 : 0.015 + 0.002 * (seed % 7)],
          [train, seed % 4 === 1 ? 0 : 0.004 * (seed % 5)],
        ]);
        const score = scoreOf(valuesV, [dipOf(train)]);
        const marked = scoreOf(valuesV, [dipOf(own)]);
        // A search believes a train from some score on; it was found, so its own lies above.
        const criticalShare = [0.95, 0.8, 0.7][seed % 3]!;
        const from = criticalShare * score;
        const gone = scoreOf(valuesV, [dipOf(train), dipOf(own)]) < from;
        // 2.3263: 1 % of the normal distribution. Odds of 400 to 1 are twice 6.0 in the squares of scores.
        const likelier = marked ** 2 - 2.3263 ** 2 > score ** 2 - from ** 2 + 12;
        expect(told(valuesV, train, { score, criticalShare }), `seed ${seed}`).toBe(gone && likelier);
        answers[gone && likelier ? "yes" : "no"] += 1;
      }
      expect(answers.no).toBeGreaterThan(2);
      if (train === trains.moved || train === trains.partly) expect(answers.yes).toBeGreaterThan(2);
    },
  );

  it("never explains strong dips away that stand two seconds aside, nor those that come beside the load's own", () => {
    const aside = beats(32, 52, 72);
    expect(told(readings([[aside, 0.2]], 0.003), aside, { score: 60, criticalShare: 0.09 })).toBe(false);
    const beside = readings([
      [own, 0.1],
      [trains.far, 0.1],
    ]);
    expect(told(beside, trains.far, { score: 20, criticalShare: 0.27 })).toBe(false);
  });

  it("takes the load's dips at the likeliest common shift; what was fitted before the search has nothing left", () => {
    const later = beats(35, 55, 75);
    const valuesV = readings([[later, 0.05]], 0.003);
    const train = beats(37, 56, 76);
    const found = { score: scoreOf(valuesV, [dipOf(train)]), criticalShare: 0.9 };
    const shifted = { ...shape, shiftS: 5 };
    expect(told(valuesV, train, found)).toBe(false);
    expect(told(valuesV, train, found, { shape: shifted })).toBe(true);
    const refined = { onTimes: later } as unknown as MarkedResponse["refined"];
    expect(told(valuesV, train, found, { refined, shape: shifted })).toBe(false);
  });

  it("asks what is left of the train in the scale of the search, which may make less of all dips", () => {
    const valuesV = readings(
      [
        [own, 0.06],
        [trains.moved, 0.01],
      ],
      0.01,
    );
    const train = dipOf(trains.moved);
    const alone = scoreOf(valuesV, [train]);
    const left = scoreOf(valuesV, [train, dipOf(own)]) / alone;
    for (const score of [alone, 1.5 * alone]) {
      expect(told(valuesV, trains.moved, { score, criticalShare: 1.01 * left })).toBe(true);
      expect(told(valuesV, trains.moved, { score, criticalShare: 0.99 * left })).toBe(false);
    }
  });

  it("leaves a train far from the marks that was just found, however clear the load", () => {
    const valuesV = readings([
      [own, 0.03],
      [trains.far, 0.012],
    ]);
    const train = dipOf(trains.far);
    // What the load's dips tell of the level makes a little less of the train, or more.
    for (const score of [scoreOf(valuesV, [train]), scoreOf(valuesV, [train, dipOf(own)]), 5.4]) {
      expect(told(valuesV, trains.far, { score, criticalShare: 0.97 })).toBe(false);
    }
  });
});
