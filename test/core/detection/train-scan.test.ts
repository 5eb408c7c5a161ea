import { describe, expect, it } from "vitest";
import { scanTrains } from "../../../src/core/detection/best-train.js";
import { scanProbability } from "../../../src/core/detection/clump-probability.js";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import type { TrainBank } from "../../../src/core/detection/train-bank.js";
import {
  rankOf,
  scoreAtRank,
  trainEdges,
  trainEnergies,
  trainEnergy,
  trainSteps,
} from "../../../src/core/detection/train-scan.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { visitTrains } from "./visit-trains.js";

const SIZE = 60;
/** Covariance of products whose neighbours hang together: positive definite, the same along each diagonal or not. */
function matrixOf(size: number, tilt = 0): Float64Array {
  return Float64Array.from({ length: size * size }, (_, k) => {
    const [a, b] = [Math.floor(k / size), k % size];
    return 4 * 0.6 ** Math.abs(a - b) * Math.sqrt((1 + tilt * a) * (1 + tilt * b));
  });
}
function fieldOf(products: Float64Array, changed: Partial<EdgeField> = {}): EdgeField {
  return {
    startS: 0,
    stepS: 0.3,
    products,
    blocked: new Uint8Array(products.length),
    covariance: { matrix: matrixOf(SIZE, 0.02), size: SIZE, everywhere: true },
    precisionSums: null,
    ...changed,
  };
}
const random = randomGenerator(8);
const noisy = (count: number) => Float64Array.from({ length: count }, () => 2 * random.normal());
const bank: TrainBank = {
  rhythms: [
    { onSteps: 4, offSteps: 5, rarity: 0 },
    { onSteps: 6, offSteps: 3, rarity: 0 },
    { onSteps: 9, offSteps: 9, rarity: 0 },
  ],
  fewestSwitchings: 1,
  mostSwitchings: 4,
  countRarities: [0, 0, 0, 0, 0],
};

/** Every train of the bank by plain loops: score by its own edges and their covariance. */
function everyTrain(field: EdgeField) {
  const { matrix, size } = field.covariance;
  return bank.rhythms.flatMap((rhythm) =>
    [1, 2, 3, 4].flatMap((switchingCount) => {
      const steps = switchingCount * rhythm.onSteps + (switchingCount - 1) * rhythm.offSteps;
      return Array.from({ length: Math.max(0, field.products.length - steps) }, (_, first) => {
        const edges: [number, number][] = [];
        for (let k = 0; k < switchingCount; k++) {
          const onset = first + k * (rhythm.onSteps + rhythm.offSteps);
          edges.push([onset, 1], [onset + rhythm.onSteps, -1]);
        }
        const blocked = edges.some(([at]) => field.blocked[at] === 1);
        const product = edges.reduce((sum, [at, sign]) => sum + sign * field.products[at]!, 0);
        const energy = edges.reduce(
          (sum, [a, s]) => sum + edges.reduce((inner, [b, t]) => inner + s * t * matrix[a * size + b]!, 0),
          0,
        );
        return {
          rhythm,
          switchingCount,
          first,
          edges,
          energy,
          score: blocked ? Number.NEGATIVE_INFINITY : product / Math.sqrt(energy),
        };
      });
    }),
  );
}

describe("trains of a short recording", () => {
  const field = fieldOf(noisy(SIZE));
  field.blocked.fill(1, 20, 24);
  const all = everyTrain(field);

  it("trainSteps(), trainEdges() and trainEnergy() are those of the edges written down", () => {
    for (const { rhythm, switchingCount, first, edges, energy } of all.filter((_, k) => k % 11 === 0)) {
      const train = { rhythm, switchingCount, first };
      const { at, sign } = trainEdges(train);
      expect(Array.from(at, (a, k) => [a, sign[k]])).toEqual(edges);
      expect(trainEnergy(field, train)).toBeCloseTo(energy, 9);
      expect(trainSteps(rhythm, switchingCount)).toBe(edges.at(-1)![0] - first);
    }
  });

  it("visitTrains() scores each of them, and none with an edge that is blocked", () => {
    let seen = 0;
    visitTrains(field, bank, (rhythm, switchingCount, scores, energies, count) => {
      const own = all.filter((one) => one.rhythm === rhythm && one.switchingCount === switchingCount);
      expect(count).toBe(own.length);
      own.forEach(({ score, energy, first }) => {
        if (Number.isFinite(score)) expect(scores[first]).toBeCloseTo(score, 9);
        else expect(scores[first]).toBe(Number.NEGATIVE_INFINITY);
        expect(energies[first]).toBeCloseTo(energy, 9);
      });
      seen += count;
    });
    expect(seen).toBe(all.length);
  });

  it("trainEnergies() are the same energies by number of switchings and first onset", () => {
    for (const rhythm of bank.rhythms) {
      const energies = trainEnergies(field, rhythm, 4);
      energies.forEach((own, k) => {
        for (const { first, energy } of all.filter((one) => one.rhythm === rhythm && one.switchingCount === k + 1))
          expect(own[first]).toBeCloseTo(energy, 9);
      });
      expect(energies).toHaveLength(
        Math.max(...all.filter((one) => one.rhythm === rhythm).map((one) => one.switchingCount)),
      );
    }
  });

  it("scanTrains() finds the one that stands out most, with its uncertainty and how many there were", () => {
    const found = scanTrains(field, bank)!;
    const best = all.reduce((a, b) => (b.score > a.score ? b : a));
    const { rhythm, switchingCount, first } = best;
    expect(found.train).toEqual({ rhythm, switchingCount, first });
    expect(found.score).toBeCloseTo(best.score, 9);
    expect(found.uDepthV).toBeCloseTo(1 / Math.sqrt(best.energy), 12);
    expect([...found.trainCounts]).toEqual([[0, all.length]]);
  });

  it("scanTrains() weighs each train by how usual it is, and counts them by it", () => {
    const rarities = [0, 2, 5];
    const weighed: TrainBank = {
      ...bank,
      rhythms: bank.rhythms.map((rhythm, k) => ({ ...rhythm, rarity: rarities[k]! })),
      countRarities: [1, 0, 0, 3],
    };
    const rarityOf = ({ rhythm, switchingCount }: (typeof all)[number]) =>
      rarities[bank.rhythms.indexOf(rhythm)]! + weighed.countRarities[switchingCount - 1]!;
    const found = scanTrains(field, weighed)!;
    const weight = (one: (typeof all)[number]) => one.score ** 2 / 2 - rarityOf(one);
    const best = all.filter(({ score }) => score > 0).reduce((a, b) => (weight(b) > weight(a) ? b : a));
    expect([found.train.first, found.train.switchingCount, found.rarity]).toEqual([
      best.first,
      best.switchingCount,
      rarityOf(best),
    ]);
    expect(found.score).toBeCloseTo(best.score, 9);
    for (const [rarity, count] of found.trainCounts) {
      expect(count).toBe(all.filter((one) => rarityOf(one) === rarity).length);
    }
    expect([...found.trainCounts.values()].reduce((a, b) => a + b)).toBe(all.length);
  });

  it("scanTrains() is nothing where no train has room", () => {
    expect(scanTrains(fieldOf(new Float64Array(4)), bank)).toBeNull();
    expect(scanTrains(field, { ...bank, fewestSwitchings: 5 })).toBeNull();
  });

  it("scanTrains() of a stated number of switchings looks at no other", () => {
    const found = scanTrains(field, { ...bank, fewestSwitchings: 2, mostSwitchings: 2 })!;
    const best = all.filter((one) => one.switchingCount === 2).reduce((a, b) => (b.score > a.score ? b : a));
    expect(found.score).toBeCloseTo(best.score, 9);
    expect(found.train.switchingCount).toBe(2);
  });
});

describe("trains of a long recording", () => {
  const covariance = { matrix: matrixOf(SIZE), size: SIZE, everywhere: false };
  const products = noisy(3000);
  const field = fieldOf(products, { covariance });

  it("have the energy of a train in the middle of the stretch, wherever they are", () => {
    const rhythm = bank.rhythms[0]!;
    const one = trainEnergy(field, { rhythm, switchingCount: 2, first: 5 });
    expect(trainEnergy(field, { rhythm, switchingCount: 2, first: 2000 })).toBeCloseTo(one, 12);
    // Edges 0, 4, 9, 13 apart: 4 of 4 on the diagonal and twice the signed rest.
    const at = [0, 4, 9, 13];
    const sign = [1, -1, 1, -1];
    let sum = 0;
    for (let i = 0; i < 4; i++)
      for (let j = 0; j < 4; j++) sum += sign[i]! * sign[j]! * 4 * 0.6 ** Math.abs(at[i]! - at[j]!);
    expect(one).toBeCloseTo(sum, 9);
    expect(trainEnergies(field, rhythm, 2).map((own) => own.length)).toEqual([1, 1]);
    expect(trainEnergies(field, rhythm, 2)[1]![0]).toBeCloseTo(sum, 9);
  });

  it("are held against their own scatter: twice the noise halves the score and doubles the uncertainty", () => {
    const [plain, louder] = [products, products.map((v) => 2 * v)].map(
      (own) => scanTrains(fieldOf(own, { covariance }), bank)!,
    );
    expect(louder!.train).toEqual(plain!.train);
    expect(louder!.score).toBeCloseTo(plain!.score, 9);
    expect(louder!.uDepthV / plain!.uDepthV).toBeCloseTo(2, 9);
    // Where few trains lie side by side a scatter below what the model says is not believed.
    const short = noisy(70).map((v) => 0.1 * v);
    const found = scanTrains(fieldOf(short, { covariance }), bank)!;
    expect(found.uDepthV).toBeCloseTo(1 / Math.sqrt(trainEnergy(fieldOf(short, { covariance }), found.train)), 9);
  });

  it("are weighed by the noise of their own stretch where it swells", () => {
    const precisionSums = new Float64Array(products.length + 1);
    for (let k = 0; k < products.length; k++) precisionSums[k + 1] = precisionSums[k]! + (k < 1500 ? 1 : 0.25);
    const swelling = fieldOf(products, { covariance, precisionSums });
    visitTrains(swelling, { ...bank, mostSwitchings: 1 }, (rhythm, _, scores, energies) => {
      const energy = trainEnergy(field, { rhythm, switchingCount: 1, first: 0 });
      expect(energies[100]).toBeCloseTo(energy, 9);
      expect(energies[2000]).toBeCloseTo(0.25 * energy, 9);
      const product = products[2000]! - products[2000 + rhythm.onSteps]!;
      expect(scores[2000]).toBeCloseTo(product / Math.sqrt(0.25 * energy), 9);
    });
  });
});

describe("scanProbability()", () => {
  const field = fieldOf(new Float64Array(SIZE), {
    covariance: { matrix: matrixOf(SIZE), size: SIZE, everywhere: true },
  });
  const trainCount = everyTrain(field).length;
  const of = (dof = Number.POSITIVE_INFINITY) =>
    scanProbability(field, bank, new Map([[0, trainCount]]), { dof, random: randomGenerator(3) });

  it("is the share of drawn noise whose best train reaches the score, within the accuracy of its draws", () => {
    // Drawn products with the covariance 4 x 0.6^|i - j|: an autoregressive series.
    const draws = randomGenerator(17);
    const best = Array.from({ length: 400 }, () => {
      const products = new Float64Array(SIZE);
      let last = 2 * draws.normal();
      products.forEach((_, k) => {
        last = k === 0 ? last : 0.6 * last + 0.8 * 2 * draws.normal();
        products[k] = last;
      });
      return scanTrains({ ...field, products }, bank)!.score;
    });
    const { pValue } = of();
    for (const score of [3.2, 3.6]) {
      const share = best.filter((one) => one >= score).length / best.length;
      // Four standard deviations of the count, and a quarter for 48 draws of the clump.
      const slack = 4 * Math.sqrt((share * (1 - share)) / best.length) + 0.25 * share;
      expect(Math.abs(pValue(score) - share), `${score}`).toBeLessThan(slack);
    }
  });

  it("beyond a score of ten is the sum of the single chances, and rises with what is open of the noise", () => {
    const { pValue } = of();
    // Normal tail at 10.5: 4.319e-26 (asymptotic series of Mills' ratio: exp(-55.125) / 26.3194 x 0.99108).
    const tail = (Math.exp(-55.125) / (10.5 * Math.sqrt(2 * Math.PI))) * (1 - 1 / 110.25 + 3 / 110.25 ** 2);
    expect(pValue(10.5) / (trainCount * tail)).toBeCloseTo(1, 3);
    expect(of(10).pValue(4)).toBeGreaterThan(2 * pValue(4));
    expect(pValue(5)).toBeLessThan(pValue(4));
    expect(pValue(-5)).toBeGreaterThan(0.9);
    expect(pValue(-5)).toBeLessThanOrEqual(1);
  });

  it("counts a train of a rarer kind only where it reaches its own higher score", () => {
    // Four points, the last two nearly without noise. The single dips 0-1, 1-2 and 2-3 never stand out together, and the
    // double dip 0-1, 2-3 scores what the first does but needs more: the chance is that of the three single ones.
    const matrix = new Float64Array(16);
    [1, 1, 1e-4, 1e-4].forEach((own, k) => {
      matrix[5 * k] = own;
    });
    const { pValue } = scanProbability(
      fieldOf(new Float64Array(4), { covariance: { matrix, size: 4, everywhere: true } }),
      {
        rhythms: [{ onSteps: 1, offSteps: 1, rarity: 2 }],
        fewestSwitchings: 1,
        mostSwitchings: 2,
        countRarities: [0, 1],
      },
      new Map([
        [2, 3],
        [3, 1],
      ]),
      { dof: Number.POSITIVE_INFINITY, random: randomGenerator(5) },
    );
    // Scores needed: sqrt(rank^2 + 4) single, sqrt(rank^2 + 6) double. Normal tails by Python 3.11, 0.5 erfc(x / sqrt(2)).
    // Of 200 draws about 0.22 meet both dips, which count half: standard deviation of their mean 0.015, four are allowed.
    for (const [rank, single, double] of [
      [4, 3.872108e-6, 1.363252e-6],
      [5.5, 2.423377e-9, 8.678001e-10],
    ] as const) {
      const sum = 3 * single + double;
      expect(Math.abs(pValue(rank) - 3 * single) / sum, `${rank}`).toBeLessThan(0.06);
    }
  });

  it("criticalRank() is the rank that noise reaches with that chance", () => {
    const { pValue, criticalRank } = of();
    for (const rate of [0.05, 0.01, 0.001]) expect(pValue(criticalRank(rate)) / rate).toBeCloseTo(1, 6);
  });
});

describe("rankOf() and scoreAtRank()", () => {
  it("weigh a likelihood ratio e^(z^2 / 2) by e^-rarity, and are each other's inverse", () => {
    for (const score of [0.3, 0.9, 1, 2.5, 6]) {
      expect(rankOf(score, 0)).toBeCloseTo(score, 12);
      expect(scoreAtRank(score, 0)).toBeCloseTo(score, 12);
      for (const rarity of [0.1, 1.5]) {
        expect(Math.exp(scoreAtRank(score, rarity) ** 2 / 2 - rarity)).toBeCloseTo(Math.exp(score ** 2 / 2), 6);
        expect(rankOf(scoreAtRank(score, rarity), rarity)).toBeCloseTo(score, 9);
      }
    }
    expect(rankOf(2, 2.1)).toBe(0);
    expect(rankOf(0, 1)).toBe(0);
    expect(rankOf(-1, 3)).toBe(-1);
    expect(scoreAtRank(0, 3)).toBe(0);
    expect(scoreAtRank(-1, 3)).toBe(-1);
  });
});
