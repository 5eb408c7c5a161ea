import { describe, expect, it } from "vitest";
import { scanProbability } from "../../../src/core/detection/clump-probability.js";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import type { TrainBank } from "../../../src/core/detection/train-bank.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const fieldOf = (matrix: Float64Array, size: number, everywhere = true): EdgeField => ({
  startS: 0,
  stepS: 0.3,
  products: new Float64Array(size),
  blocked: new Uint8Array(size),
  covariance: { matrix, size, everywhere },
  precisionSums: null,
});
/** Covariance of products whose neighbours are much alike (Matern, 3/2: positive definite). */
const decaying = (size: number, tilt: number) =>
  Float64Array.from({ length: size * size }, (_, k) => {
    const [a, b] = [Math.floor(k / size), k % size];
    const apart = Math.abs(a - b) / 2;
    return 4 * (1 + apart) * Math.exp(-apart) * Math.sqrt((1 + tilt * a) * (1 + tilt * b));
  });

/** Every train of the bank as a row of signs over the points, scaled to a score of unit variance. */
function trainsOf(bank: TrainBank, matrix: Float64Array, size: number) {
  return bank.rhythms.flatMap(({ onSteps, offSteps, rarity }) =>
    bank.countRarities.flatMap((countRarity, k) => {
      const steps = (k + 1) * onSteps + k * offSteps;
      if (k + 1 < bank.fewestSwitchings || k + 1 > bank.mostSwitchings) return [];
      return Array.from({ length: Math.max(0, size - steps) }, (_, first) => {
        const signs = new Array<number>(size).fill(0);
        for (let s = 0; s <= k; s++) {
          signs[first + s * (onSteps + offSteps)]! += 1;
          signs[first + s * (onSteps + offSteps) + onSteps]! -= 1;
        }
        const along = signs.map((_, i) => signs.reduce((sum, sign, j) => sum + sign * matrix[i * size + j]!, 0));
        const energy = signs.reduce((sum, sign, i) => sum + sign * along[i]!, 0);
        return { signs, along, energy, rarity: rarity + countRarity };
      });
    }),
  );
}

/** Mean of one over the number of trains above their levels, given one picked at random is; plain draws, many of them. */
function meanShare(bank: TrainBank, matrix: Float64Array, size: number, rank: number, seed: number, count = 6000) {
  const random = randomGenerator(seed);
  const trains = trainsOf(bank, matrix, size);
  const weights = trains.map(({ rarity }) => Math.exp(-rarity));
  const upTo = weights.map((_, k) => weights.slice(0, k + 1).reduce((a, b) => a + b));
  // Lower factor of the covariance, by its definition.
  const factor = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * size + j]!;
      for (let k = 0; k < j; k++) sum -= factor[i * size + k]! * factor[j * size + k]!;
      factor[i * size + j] = i === j ? Math.sqrt(sum) : sum / factor[j * size + j]!;
    }
  }
  const levelOf = (rarity: number) => Math.sqrt(rank * rank + 2 * rarity);
  let mean = 0;
  for (let draw = 0; draw < count; draw++) {
    const at = random.uniform() * upTo.at(-1)!;
    const picked = trains[weights.findIndex((_, k) => upTo[k]! > at)]!;
    const unit = Array.from({ length: size }, () => random.normal());
    const noise = unit.map((_, i) => unit.reduce((sum, z, k) => sum + factor[i * size + k]! * z, 0));
    const level = levelOf(picked.rarity);
    const score = level - Math.log(random.uniform()) / level;
    const own = picked.signs.reduce((sum, sign, i) => sum + sign * noise[i]!, 0) / Math.sqrt(picked.energy);
    const moved = noise.map((v, i) => v + ((score - own) * picked.along[i]!) / Math.sqrt(picked.energy));
    const above = trains.filter(({ signs, energy, rarity }) => {
      const z = signs.reduce((sum, sign, i) => sum + sign * moved[i]!, 0) / Math.sqrt(energy);
      return z > levelOf(rarity) * (1 - 1e-12);
    });
    mean += 1 / above.length / count;
  }
  return { mean, trains };
}

/** The same as the program tells it: the chance over the sum of single chances. */
function toldShare(bank: TrainBank, field: EdgeField, rank: number, seeds: number) {
  let mean = 0;
  for (let seed = 1; seed <= seeds; seed++) {
    const probability = scanProbability(field, bank, new Map([[0, 1]]), {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(seed),
    });
    probability.pValue(rank);
    mean += Math.exp(probability.clumps()![rank === 4 ? 0 : 1]!) / seeds;
  }
  return mean;
}

const even: TrainBank = {
  rhythms: [
    { onSteps: 4, offSteps: 4, rarity: 0 },
    { onSteps: 5, offSteps: 4, rarity: 0 },
    { onSteps: 4, offSteps: 5, rarity: 0 },
  ],
  fewestSwitchings: 1,
  mostSwitchings: 2,
  countRarities: [0, 0],
};
const uneven: TrainBank = {
  ...even,
  rhythms: even.rhythms.map((rhythm, k) => ({ ...rhythm, rarity: k })),
  countRarities: [1.5, 0],
};

describe("scanProbability()", () => {
  // 200 draws of a share below one for each of 40 seeds: within 0.01 or so; the plain draws within 0.005.
  it.each([
    ["trains of one kind", even, 0],
    ["trains of which some are rare", uneven, 0],
    ["readings that tell more towards the end", even, 0.2],
    ["only two switchings", { ...even, fewestSwitchings: 2 }, 0],
  ] as const)("shares the chance among the trains that exceed together, as plain draws of %s do", (_, bank, tilt) => {
    const size = 16;
    const matrix = decaying(size, tilt);
    for (const rank of [4, 5.5]) {
      const { mean } = meanShare(bank, matrix, size, rank, 7);
      // Far from one, or nothing would be told.
      expect(mean).toBeLessThan(0.85);
      expect(Math.abs(toldShare(bank, fieldOf(matrix, size), rank, 40) / mean - 1), `rank ${rank}`).toBeLessThan(0.04);
    }
  });

  it("draws the noise of every point", () => {
    // Products z0, z1 and 2 z1: of two dips one hangs on z0 and z1, the other on z1 alone.
    const matrix = Float64Array.of(1, 0, 0, 0, 1, 2, 0, 2, 4 + 1e-6);
    const bank: TrainBank = {
      rhythms: [{ onSteps: 1, offSteps: 1, rarity: 0 }],
      fewestSwitchings: 1,
      mostSwitchings: 1,
      countRarities: [0],
    };
    const { mean } = meanShare(bank, matrix, 3, 4, 7, 40_000);
    expect(Math.abs(toldShare(bank, fieldOf(matrix, 3), 4, 100) - mean)).toBeLessThan(0.01);
  });

  it("does so in a stretch of a long recording too, whose trains all have one energy", () => {
    const size = 16;
    const matrix = decaying(size, 0);
    const { mean } = meanShare(even, matrix, size, 4, 7);
    expect(Math.abs(toldShare(even, fieldOf(matrix, size, false), 4, 40) / mean - 1)).toBeLessThan(0.04);
  });

  it("holds the matrix of a grid with points that nothing was read at", () => {
    const size = 16;
    const matrix = decaying(size, 0);
    // Three points in a gap: an edge there is the same edge.
    for (const k of [7, 8]) {
      for (let i = 0; i < size; i++) matrix[k * size + i] = matrix[6 * size + i]!;
      for (let i = 0; i < size; i++) matrix[i * size + k] = matrix[i * size + 6]!;
    }
    const { pValue } = scanProbability(fieldOf(matrix, size), even, new Map([[0, 50]]), {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(1),
    });
    expect(pValue(4)).toBeGreaterThan(0);
    // The normal tail beyond 4 is 3.167e-5 (table): never more than the sum of the single chances.
    expect(pValue(4)).toBeLessThan(50 * 3.168e-5);
  });

  it("is certain of nothing where no train has room, and never says more than the sum of single chances", () => {
    const field = fieldOf(decaying(3, 0), 3);
    const { pValue, clumps } = scanProbability(field, even, new Map([[0, 2]]), {
      dof: Number.POSITIVE_INFINITY,
      random: randomGenerator(1),
    });
    expect(pValue(4) / (2 * 3.1671e-5)).toBeCloseTo(1, 3);
    expect(clumps()).toEqual([0, 0]);
  });
});
