import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import { cadenceBank, openBank } from "../../../src/core/detection/train-bank.js";
import { rankOf, trainEnergy, trainSteps } from "../../../src/core/detection/train-scan.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { visitTrains } from "./visit-trains.js";

const SIZE = 300;
const STEP_S = 0.3;

/** A long field of products that hang together over a few points, with a train of the given strength in it. */
function fieldOf(seed: number, onSteps: number, offSteps: number, strength: number): EdgeField {
  const random = randomGenerator(seed);
  const products = new Float64Array(2500);
  let last = 0;
  for (let k = 0; k < products.length; k++) {
    last = 0.6 * last + 0.8 * random.normal();
    products[k] = last;
  }
  for (let dip = 0; dip < 3; dip++) {
    const onset = 1000 + dip * (onSteps + offSteps);
    for (let k = -12; k <= 12; k++) {
      products[onset + k]! += strength * 0.6 ** Math.abs(k);
      products[onset + onSteps + k]! -= strength * 0.6 ** Math.abs(k);
    }
  }
  const matrix = Float64Array.from(
    { length: SIZE * SIZE },
    (_, k) => 0.6 ** Math.abs(Math.floor(k / SIZE) - (k % SIZE)),
  );
  return {
    startS: 0,
    stepS: STEP_S,
    products,
    blocked: new Uint8Array(products.length),
    covariance: { matrix, size: SIZE, everywhere: false },
    precisionSums: null,
  };
}

describe("scanTrains() of a long recording", () => {
  const bank = openBank(STEP_S);

  it.each([
    [17, 17],
    [27, 31],
    [9, 13],
    [33, 25],
  ])("finds a train of %d steps on and %d off though not every rhythm is tried first", (onSteps, offSteps) => {
    for (const seed of [1, 2, 3]) {
      const field = fieldOf(seed, onSteps, offSteps, 5);
      const { train, score, uDepthV, rarity } = scanTrains(field, bank)!;
      expect(train.switchingCount).toBe(3);
      expect(Math.abs(train.first - 1000)).toBeLessThanOrEqual(2);
      expect(Math.abs(train.rhythm.onSteps - onSteps)).toBeLessThanOrEqual(2);
      // The whole bank, one rhythm after the other, holds hardly a better one.
      let best = 0;
      visitTrains(field, bank, (rhythm, switchings, scores, _energies, count) => {
        const rare = rhythm.rarity + bank.countRarities[switchings - 1]!;
        for (let k = 0; k < count; k++) best = Math.max(best, rankOf(scores[k]!, rare));
      });
      // Its depth over what the model says of its uncertainty, the recording's own scatter left out.
      const byModel = score * uDepthV * Math.sqrt(trainEnergy(field, train));
      expect(rankOf(byModel, rarity)).toBeGreaterThan(0.95 * best);
    }
  });

  it.each([29.6, 30.2, 30.5])("tries a stated cadence of %d s, whose times may all be odd on the grid", (onS) => {
    const [onSteps, offSteps] = [Math.round(onS / STEP_S), 20];
    const found = scanTrains(fieldOf(1, onSteps, offSteps, 5), cadenceBank({ onS, offS: 6 }, STEP_S));
    expect(Math.abs(found!.train.rhythm.onSteps - onSteps)).toBeLessThanOrEqual(2);
    expect(found!.score).toBeGreaterThan(5);
  });

  it("takes the scatter from the trains that meet no known dip", () => {
    const cadence = cadenceBank({ onS: 5.1, offS: 5.1, switchingCount: 3 }, STEP_S);
    for (const seed of [1, 2, 3]) {
      const field = fieldOf(seed, 17, 17, 5);
      const free = scanTrains(field, cadence)!;
      const beside = scanTrains({ ...field, blocked: field.blocked.map((_, k) => (k >= 1500 ? 1 : 0)) }, cadence)!;
      expect(beside.train).toEqual(free.train);
      // The median of the magnitudes of some 1,400 places that hang together over 5 is known to 5 %, and 2,400 share them.
      expect(Math.abs(beside.score / free.score - 1), `seed ${seed}`).toBeLessThan(0.15);
    }
  });

  it("counts every train of the bank, tried or not", () => {
    const field = fieldOf(1, 17, 17, 0);
    const { trainCounts } = scanTrains(field, bank)!;
    let all = 0;
    for (const rhythm of bank.rhythms) {
      for (let switchings = 1; switchings <= 6; switchings++) {
        const steps = trainSteps(rhythm, switchings);
        // Longer than the stretch of the covariance a train cannot be; 95 s are 316 steps.
        if (steps < SIZE) all += field.products.length - steps;
      }
    }
    expect([...trainCounts.values()].reduce((sum, count) => sum + count, 0)).toBe(all);
  });
});
