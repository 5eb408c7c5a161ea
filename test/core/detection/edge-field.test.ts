import { describe, expect, it } from "vitest";
import { edgeField } from "../../../src/core/detection/edge-field.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import {
  type Train,
  trainEdges,
  trainEnergy,
  trainSteps,
  visitTrains,
} from "../../../src/core/detection/train-scan.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";

const noise = { whiteV: 0.02, colouredV: 0.015, colouredTimeS: 0.7, walkVPerSqrtS: 0.004, bendVPerS15: 0.0005 };
const LAG_S = 0.35;
const NOTHING = { templates: [], onTimes: [] };

function designOf(timesS: Float64Array): ReadingsDesign {
  return new ReadingsDesign({
    timesS,
    valuesV: timesS.map((t, i) => 24 + 0.05 * Math.sin(0.9 * t) + 0.02 * ((i * 7) % 5)),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.5,
  });
}

function onTimesOf({ rhythm, switchingCount, first }: Train, startS: number, stepS: number): OnTime[] {
  return Array.from({ length: switchingCount }, (_, k) => {
    const onset = first + k * (rhythm.onSteps + rhythm.offSteps);
    return { onsetS: startS + onset * stepS, releaseS: startS + (onset + rhythm.onSteps) * stepS };
  });
}

/** Depth of a train and its uncertainty by textbook least squares with the dense covariance. */
function denseTrain(design: ReadingsDesign, train: Train, startS: number, stepS: number) {
  const { timesS, valuesV, readingCounts } = design.series;
  const shape = { shiftS: 0, lagS: LAG_S, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
  const template = dipTemplate(timesS, 0, onTimesOf(train, startS, stepS), shape);
  const middleS = timesS[timesS.length >> 1]!;
  const columns = [timesS.map(() => 1), timesS.map((t) => (t - middleS) / 10), template].map((c) => Array.from(c));
  const fit = generalizedLeastSquares(denseCovariance(timesS, readingCounts, noise), columns, valuesV);
  return { depthV: fit.estimates[2]!, uV: Math.sqrt(fit.estimateCovariance[2]![2]!) };
}

const trains: readonly Train[] = [
  { rhythm: { onSteps: 8, offSteps: 9, rarity: 0 }, switchingCount: 1, first: 20 },
  { rhythm: { onSteps: 8, offSteps: 9, rarity: 0 }, switchingCount: 3, first: 11 },
  { rhythm: { onSteps: 5, offSteps: 3, rarity: 0 }, switchingCount: 5, first: 30 },
  { rhythm: { onSteps: 60, offSteps: 3, rarity: 0 }, switchingCount: 1, first: 15 },
];

describe("edgeField() of a short recording", () => {
  // Uneven times, so that nothing hangs on the grid.
  const timesS = Float64Array.from({ length: 70 }, (_, i) => 100 + 0.45 * i + 0.11 * ((i * 3) % 4));
  const design = designOf(timesS);
  const field = edgeField(design, noise, LAG_S, NOTHING);

  it.each(trains)("scores a train of $switchingCount as the dense fit of its dips does", (train) => {
    const { depthV, uV } = denseTrain(design, train, field.startS, field.stepS);
    expect(Math.abs(trainEnergy(field, train) * uV * uV - 1)).toBeLessThan(1e-4);
    const { at, sign } = trainEdges(train);
    const product = at.reduce((sum, k, i) => sum + sign[i]! * field.products[k]!, 0);
    expect(Math.abs(product * uV - depthV / uV)).toBeLessThan(1e-3);
  });

  it("visitTrains() visits every place of every train once, with the same scores", () => {
    const rhythm = { onSteps: 8, offSteps: 9, rarity: 0 };
    const seen = new Map<number, number>();
    visitTrains(
      field,
      { rhythms: [rhythm], fewestSwitchings: 1, mostSwitchings: 3, countRarities: [0, 0, 0] },
      (_r, switchings, scores, _e, count) => {
        expect(count).toBe(field.products.length - trainSteps(rhythm, switchings));
        for (let first = 0; first < count; first += 7) {
          const train = { rhythm, switchingCount: switchings, first };
          const { at, sign } = trainEdges(train);
          const product = at.reduce((sum, k, i) => sum + sign[i]! * field.products[k]!, 0);
          expect(scores[first]).toBeCloseTo(product / Math.sqrt(trainEnergy(field, train)), 6);
        }
        seen.set(switchings, count);
      },
    );
    expect([...seen.keys()]).toEqual([1, 2, 3]);
  });

  it("looks for no edge inside a known dip, nor within a second of it", () => {
    const known = [{ onsetS: 110, releaseS: 115 }];
    const { blocked } = edgeField(design, noise, LAG_S, { templates: [], onTimes: known });
    for (const [k, one] of blocked.entries()) {
      const timeS = field.startS + k * field.stepS;
      const inside = timeS > 109 && timeS < 116;
      const onRim = Math.min(Math.abs(timeS - 109), Math.abs(timeS - 116)) < 1e-6;
      if (!onRim) expect(one, `${timeS} s`).toBe(inside ? 1 : 0);
    }
  });
});

describe("edgeField() of a long recording", () => {
  const timesS = Float64Array.from({ length: 320 }, (_, i) => i);
  const design = designOf(timesS);
  const field = edgeField(design, noise, LAG_S, NOTHING);

  it.each([
    { rhythm: { onSteps: 17, offSteps: 17, rarity: 0 }, switchingCount: 3, first: 480 },
    { rhythm: { onSteps: 27, offSteps: 20, rarity: 0 }, switchingCount: 1, first: 500 },
  ])("scores a train of $switchingCount in the middle as the dense fit does", (train) => {
    const { depthV, uV } = denseTrain(design, train, field.startS, field.stepS);
    // The covariance is that of any such place: where the edges fall between two readings a second apart costs some.
    expect(Math.abs(trainEnergy(field, train) * uV * uV - 1)).toBeLessThan(0.1);
    const { at, sign } = trainEdges(train);
    const product = at.reduce((sum, k, i) => sum + sign[i]! * field.products[k]!, 0);
    // The products themselves are exact but for the straight line, which 300 readings fix.
    expect(Math.abs(product * uV - depthV / uV)).toBeLessThan(0.02 * Math.max(1, Math.abs(depthV / uV)));
  });
});
