import { describe, expect, it } from "vitest";
import { averagedScore, withoutTwins } from "../../../src/core/detection/averaged-score.js";
import { matchedScores } from "../../../src/core/detection/matched-scores.js";
import { shapeBank } from "../../../src/core/detection/shape-bank.js";
import { dipTemplate } from "../../../src/core/detection/switching-template.js";
import { CriticalOffset } from "../../../src/core/plan/critical-offset.js";
import { statedReadings } from "../../../src/core/plan/planned-readings.js";
import { plannedStretch } from "../../../src/core/plan/planned-stretch.js";
import { predictedDetection, typicalUncertaintyV } from "../../../src/core/plan/predicted-power.js";
import { scaleAt } from "../../../src/core/plan/score-scale.js";
import { normalCdf } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, generalizedLeastSquares, inner, invert, times } from "../../oracles/dense-noise.js";

const onTimes = [30, 41, 52].map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
const readings = statedReadings(0.05, undefined, { intervalS: 0.5 })!;
const stretch = plannedStretch(readings, onTimes);
const { timesS, readingCounts } = stretch.sampled;
const meter = { lagS: 0.3 };
const covariance = denseCovariance(timesS, readingCounts, stretch.noise);
const line = [timesS.map(() => 1), timesS.map((t) => (t - timesS[0]!) / 30)].map((column) => Array.from(column));
const single = { weights: Float64Array.of(1), correlations: Float64Array.of(1) };

describe("predictedDetection() of a load whose shape is all but known", () => {
  // The two shapes of a resistive load of exact times differ by the battery's polarisation alone.
  const bank = shapeBank("resistive", meter, 0);
  const templates = bank.map(({ shape }) => Array.from(dipTemplate(timesS, 0, onTimes, shape)));
  const uV = templates.map((template) =>
    Math.sqrt(generalizedLeastSquares(covariance, [...line, template], timesS).estimateCovariance[2]![2]!),
  );

  it.each([
    [0, 1],
    [0.2, 0.95],
  ])(
    "is the normal distribution about dip over uncertainty, in noise known to %d and scores shrunk by %d",
    (scaleSd, shrink) => {
      const offset = new CriticalOffset();
      const found = predictedDetection(stretch, { kind: "resistive", onTimes, timeUncertaintyS: 0 }, meter, {
        knowledge: { scaleSd, shrink },
        offset,
      });
      for (const rate of [0.01, 0.2]) {
        const critical = new CriticalOffset().criticalScore(single, rate, scaleSd);
        for (const size of [0, 1, 2, 3, 4, 6]) {
          const depthV = size * uV[0]!;
          let closed = 0;
          for (let k = 0; k < 16; k++) {
            bank.forEach(({ weight }, j) => {
              closed += (weight * normalCdf(depthV / uV[j]! - critical / (shrink * scaleAt(scaleSd, k)))) / 16;
            });
          }
          // Shapes that resemble each other to 0.98 cost some 2 % of a score of 4: 0.03 of power at the steepest.
          expect(Math.abs(found.power(depthV, rate) - closed), `rate ${rate}, ${size} u`).toBeLessThan(0.03);
        }
      }
    },
  );

  it("is 1 for a dip far above the noise, and never more", () => {
    const found = predictedDetection(stretch, { kind: "resistive", onTimes, timeUncertaintyS: 0 }, meter, {
      knowledge: { scaleSd: 0, shrink: 1 },
      offset: new CriticalOffset(),
    });
    expect(found.power(30 * uV[0]!, 0.01)).toBeCloseTo(1, 9);
    expect(found.power(30 * uV[0]!, 0.01)).toBeLessThanOrEqual(1);
  });

  it("typicalUncertaintyV() is that of the weightiest shape, by dense least squares", () => {
    const told = typicalUncertaintyV(stretch, { kind: "resistive", onTimes, timeUncertaintyS: 0.2 }, meter);
    const weightiest = bank.reduce((best, { weight }, k) => (weight > bank[best]!.weight ? k : best), 0);
    expect(told / uV[weightiest]!).toBeCloseTo(1, 5);
  });
});

describe("predictedDetection() without a dip", () => {
  it.each([
    ["heater", 0.3],
    ["heater", 1],
    ["resistive", 0.3],
    ["resistive", 1],
  ] as const)("finds one as often as the rate of false alarms says: %s, a hand off by %d s", (kind, handS) => {
    for (const scaleSd of [0, 0.2]) {
      const found = predictedDetection(stretch, { kind, onTimes, timeUncertaintyS: handS }, undefined, {
        knowledge: { scaleSd, shrink: 1 },
        offset: new CriticalOffset(),
      });
      // 320 draws tell such a share to 6 % or so; 0.02 of a score, lost by design, is 5 % at 1 in 10.
      for (const rate of [0.1, 0.2]) expect(Math.abs(found.power(0, rate) / rate - 1), `${rate}`).toBeLessThan(0.25);
    }
  });
});

describe("predictedDetection() of a heater switched by hand", () => {
  it("is how often drawn readings with a dip of any of its shapes pass the critical score", () => {
    const handS = 0.3;
    const bank = shapeBank("heater", undefined, handS);
    const columns = stretch.columns(bank.map(({ shape }) => dipTemplate(timesS, 0, onTimes, shape)));
    const width = columns.length / timesS.length;
    const scoresOf = (valuesV: ArrayLike<number>) => {
      const own = Float64Array.from(columns);
      for (let i = 0; i < timesS.length; i++) own[i * width + 2] = valuesV[i]!;
      return matchedScores(stretch.sampled, own, { common: 2, templates: bank.length }, stretch.noise, true);
    };
    const { correlations } = scoresOf(timesS);
    const weights = Float64Array.from(bank, ({ weight }) => weight);
    const { bank: scoreBank, members } = withoutTwins({ weights, correlations: correlations! });
    // Scores are linear in the readings: one row of weights for each member.
    const { inverse } = invert(covariance);
    const weightedLine = line.map((column) => times(inverse, column));
    const { inverse: lineCovariance } = invert(weightedLine.map((row) => line.map((column) => inner(row, column))));
    const rows = Array.from(members, (j) => {
      const template = Array.from(timesS, (_, i) => columns[i * width + 3 + j]!);
      const weighted = times(inverse, template);
      const along = times(
        lineCovariance,
        line.map((column) => inner(column, weighted)),
      );
      const rest = weighted.map((v, i) => v - along[0]! * weightedLine[0]![i]! - along[1]! * weightedLine[1]![i]!);
      const u = 1 / Math.sqrt(inner(rest, template));
      return rest.map((v) => v * u);
    });
    const n = timesS.length;
    const factor = covariance.map(() => new Array<number>(n).fill(0));
    for (let i = 0; i < n; i++) {
      for (let j = 0; j <= i; j++) {
        const sum = covariance[i]![j]! - inner(factor[i]!.slice(0, j), factor[j]!.slice(0, j));
        factor[i]![j] = i === j ? Math.sqrt(sum) : sum / factor[j]![j]!;
      }
    }
    const offset = new CriticalOffset();
    const critical = offset.criticalScore(scoreBank, 0.05, 0);
    const found = predictedDetection(stretch, { kind: "heater", onTimes, timeUncertaintyS: handS }, undefined, {
      knowledge: { scaleSd: 0, shrink: 1 },
      offset,
    });
    const random = randomGenerator(12);
    const count = 800;
    const upTo = bank.map((_, k) => bank.slice(0, k + 1).reduce((sum, { weight }) => sum + weight, 0));
    const drawn = Array.from({ length: count }, () => {
      const at = random.uniform() * upTo.at(-1)!;
      const { shape } = bank[upTo.findIndex((sum) => sum > at)]!;
      const moved = onTimes.map(({ onsetS, releaseS }) => ({
        onsetS: onsetS + handS * random.normal(),
        releaseS: releaseS + handS * random.normal(),
      }));
      const unit = Array.from({ length: n }, () => random.normal());
      const noiseV = factor.map((row, i) => inner(row.slice(0, i + 1), unit));
      const dip = dipTemplate(timesS, 0, moved, { ...shape, shiftS: 0 });
      return { noise: rows.map((row) => inner(row, noiseV)), dip: rows.map((row) => inner(row, dip)) };
    });
    for (const depthV of [0, 0.03, 0.05, 0.08]) {
      const share =
        drawn.filter(({ noise, dip }) => {
          const scores = Float64Array.from(noise, (z, j) => z + depthV * dip[j]!);
          return averagedScore(scores, scoreBank.weights) >= critical;
        }).length / count;
      // Four standard deviations of 800 draws are 0.07 at the most; the program draws 20 shapes and hands.
      expect(Math.abs(found.power(depthV, 0.05) - share), `${depthV} V`).toBeLessThan(0.1);
    }
  });
});
