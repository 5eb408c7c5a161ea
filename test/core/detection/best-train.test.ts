import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import { cadenceBank, openBank, type Rhythm, type TrainBank } from "../../../src/core/detection/train-bank.js";
import { rankOf, type Train, trainEnergy, trainSteps } from "../../../src/core/detection/train-scan.js";
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

/** What a train of a depth makes of the scores of its like at all places, over the root of their energy: by the products it makes. */
function ownScores(field: EdgeField, train: Train, depthV: number, count: number): Float64Array {
  const { matrix, size } = field.covariance;
  // Here edges that far apart have nothing in common: 0.6 to the power 300.
  const lagged = (apart: number) => (apart < size ? matrix[apart]! : 0);
  const edges = Array.from({ length: 2 * train.switchingCount }, (_, edge) => ({
    at: (edge >> 1) * (train.rhythm.onSteps + train.rhythm.offSteps) + (edge % 2) * train.rhythm.onSteps,
    sign: edge % 2 === 0 ? 1 : -1,
  }));
  const products = Float64Array.from(field.products, (_, k) =>
    edges.reduce((sum, { at, sign }) => sum + sign * lagged(Math.abs(k - train.first - at)), 0),
  );
  const sums = Float64Array.from({ length: count }, (_, k) =>
    edges.reduce((sum, { at, sign }) => sum + sign * products[k + at]!, 0),
  );
  return sums.map((sum) => (depthV * sum) / sums[train.first]!);
}

/** The winner by trying everything: the five best rhythms of each number of switchings, each against its own scatter. */
function byHand(field: EdgeField, bank: TrainBank) {
  const families: {
    rhythm: Rhythm;
    switchingCount: number;
    first: number;
    score: number;
    rarity: number;
    energy: number;
    scatter: number;
  }[] = [];
  visitTrains(field, bank, (rhythm, switchingCount, scores, energies, count) => {
    const all = Array.from(scores.slice(0, count));
    const score = all.reduce((a, b) => Math.max(a, b));
    const first = all.indexOf(score);
    const stride = Math.max(1, Math.floor(count / 2500));
    const own = ownScores(field, { rhythm, switchingCount, first }, score / Math.sqrt(energies[first]!), count);
    const seen = all
      .map((z, k) => Math.abs(z - own[k]! * Math.sqrt(energies[k]!)))
      .filter((z, k) => k % stride === 0 && Number.isFinite(z) && energies[k]! > 0);
    const middle = seen.sort((a, b) => a - b)[Math.floor(seen.length / 2)] ?? 0;
    const steps = switchingCount * rhythm.onSteps + (switchingCount - 1) * rhythm.offSteps;
    // The median absolute deviation of a normal variable is 0.6745. It lowers the scatter only where twenty trains tell it,
    // and by no more than is left of it when it came out too small by one over the root of their number.
    const measured = 1.4826 * middle;
    const sideBySide = (seen.length * stride) / steps;
    const lowered = sideBySide >= 20 ? Math.min(1, measured + measured / Math.sqrt(sideBySide)) : 1;
    const scatter = measured > 1 ? measured : Math.max(measured, lowered);
    const rarity = rhythm.rarity + bank.countRarities[switchingCount - 1]!;
    families.push({ rhythm, switchingCount, first, score, rarity, energy: energies[first]!, scatter });
  });
  const counts = [...new Set(families.map(({ switchingCount }) => switchingCount))];
  const finalists = counts.flatMap((count) =>
    families
      .filter(({ switchingCount }) => switchingCount === count)
      .sort((a, b) => rankOf(b.score, b.rarity) - rankOf(a.score, a.rarity))
      .slice(0, 5),
  );
  const scaled = finalists.map((one) => ({
    ...one,
    score: field.covariance.everywhere ? one.score : one.score / one.scatter,
  }));
  return scaled.sort((a, b) => rankOf(b.score, b.rarity) - rankOf(a.score, a.rarity))[0]!;
}

describe("scanTrains() of few rhythms beside trying everything", () => {
  it.each([
    ["a long recording", { cut: 2500, stride: 1 }],
    ["so long a recording that every second place stands for two", { cut: 6000, stride: 1 }],
    ["few trains side by side", { cut: 700, stride: 1 }],
    ["blocked places", { cut: 2500, stride: 3 }],
  ])("finds the same train: %s", (_, { cut, stride }) => {
    const few = cadenceBank({ onS: 5.1, offS: 6 }, STEP_S);
    // Some of them less usual than others.
    const bank = {
      ...few,
      rhythms: few.rhythms.map((rhythm, k) => ({ ...rhythm, rarity: (k % 4) / 2 })),
      countRarities: [1.5, 0.5, 0, 0, 0, 1],
    };
    for (let seed = 1; seed <= 6; seed++) {
      const one = fieldOf(seed, 17, 20, seed % 2 === 0 ? 3 : 0);
      const random = randomGenerator(40 + seed);
      const products = Float64Array.from({ length: cut }, (__, k) => one.products[k] ?? 1.4 * random.normal());
      const field = {
        ...one,
        products,
        blocked: new Uint8Array(cut).map((__, k) => (stride > 1 && k % 97 < 30 ? 1 : 0)),
      };
      const [found, hand] = [scanTrains(field, bank)!, byHand(field, bank)];
      expect(found.train, `seed ${seed}`).toEqual({
        rhythm: hand.rhythm,
        switchingCount: hand.switchingCount,
        first: hand.first,
      });
      expect(found.score).toBeCloseTo(hand.score, 9);
      expect(found.scatter).toBeCloseTo(hand.scatter, 9);
      expect(found.uDepthV).toBeCloseTo(hand.scatter / Math.sqrt(hand.energy), 9);
      expect(found.rarity).toBe(hand.rarity);
    }
  });

  it("holds nothing against its own scatter where every edge's covariance is known", () => {
    const size = 120;
    const random = randomGenerator(3);
    const matrix = Float64Array.from({ length: size * size }, (_, k) => {
      const [a, b] = [Math.floor(k / size), k % size];
      return 0.6 ** Math.abs(a - b) * Math.sqrt((1 + a / 60) * (1 + b / 60));
    });
    for (let draw = 0; draw < 6; draw++) {
      const field: EdgeField = {
        ...fieldOf(1, 9, 9, 0),
        products: Float64Array.from({ length: size }, () => 2 * random.normal()),
        blocked: new Uint8Array(size),
        covariance: { matrix, size, everywhere: true },
      };
      const bank = cadenceBank({ onS: 3, offS: 3 }, STEP_S);
      const [found, hand] = [scanTrains(field, bank)!, byHand(field, bank)];
      expect(found).toMatchObject({ scatter: 1, rarity: 0 });
      expect(found.score).toBeCloseTo(hand.score, 9);
      expect(found.train.first).toBe(hand.first);
      expect(found.uDepthV).toBeCloseTo(1 / Math.sqrt(hand.energy), 9);
    }
  });
});

describe("scanTrains() of many rhythms", () => {
  it("tries the fine ones only beside the best of the coarse ones: no dip with an odd time elsewhere wins", () => {
    const bank = openBank(STEP_S);
    expect(bank.rhythms.length).toBeGreaterThan(200);
    const isCoarse = ({ onSteps, offSteps }: Rhythm) =>
      [onSteps, offSteps].every((steps) => steps < 14 || steps % 2 === 0);
    for (let seed = 1; seed <= 4; seed++) {
      const field = fieldOf(seed, 17, 17, 0);
      const { rhythm } = scanTrains(field, bank)!.train;
      const tried = bank.rhythms.filter(isCoarse);
      // The three best coarse rhythms of each number of switchings, by their best train.
      const best = new Map<number, { rhythm: Rhythm; rank: number }[]>();
      visitTrains(field, { ...bank, rhythms: tried }, (one, switchings, scores, _energies, count) => {
        const rank = rankOf(
          scores.slice(0, count).reduce((a, b) => Math.max(a, b)),
          one.rarity + bank.countRarities[switchings - 1]!,
        );
        best.set(
          switchings,
          [...(best.get(switchings) ?? []), { rhythm: one, rank }].sort((a, b) => b.rank - a.rank).slice(0, 3),
        );
      });
      const leaders = [...best.values()].flat().map((one) => one.rhythm);
      const near = (a: number, b: number) => Math.abs(a - b) <= Math.max(1, 0.06 * b);
      const beside = leaders.some(
        (leader) => near(rhythm.onSteps, leader.onSteps) && near(rhythm.offSteps, leader.offSteps),
      );
      expect(isCoarse(rhythm) || beside, `seed ${seed}`).toBe(true);
    }
  });
});
