import { describe, expect, it } from "vitest";
import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import { shiftedEnergy, trainEnergy } from "../../../src/core/detection/train-scan.js";
import { analyze } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const DIPS_S = [0, 16, 32];

/** Two readings a second with 10 mV of noise, and three dips of 0.2 V about the middle. */
function recorded(durationS: number, seed: number) {
  const random = randomGenerator(seed);
  const startS = durationS / 2 - 24;
  const timesS = Float64Array.from({ length: 2 * durationS }, (_, i) => i / 2);
  const isOn = (t: number) => DIPS_S.some((onsetS) => t >= startS + onsetS && t < startS + onsetS + 8);
  return {
    timesS,
    voltagesV: timesS.map((t) => 24.5 + 0.2 * Math.exp(-t / 100) - (isOn(t) ? 0.2 : 0) + 0.01 * random.normal()),
  };
}

describe("analyze() without marks", () => {
  it.each([95, 105, 115, 130, 170, 260])("finds dips of twenty times the noise in %i s", (durationS) => {
    for (const seed of [1, 2, 3]) {
      const { loads } = analyze(recorded(durationS, seed), {});
      expect(loads.map(({ verdict, switchingCount }) => ({ verdict, switchingCount }))).toEqual([
        { verdict: "responded", switchingCount: 3 },
      ]);
      const { low, high } = loads[0]!.depth!;
      expect([low < 0.2, high > 0.2, high - low < 0.05]).toEqual([true, true, true]);
    }
  });
});

describe("shiftedEnergy()", () => {
  const size = 50;
  const lagged = (apart: number) => 4 * 0.6 ** apart - 0.3 * apart * Math.exp(-apart / 9);
  const field = {
    covariance: {
      matrix: Float64Array.from({ length: size * size }, (_, k) => lagged(Math.abs(Math.floor(k / size) - (k % size)))),
      size,
      everywhere: false,
    },
  } as unknown as EdgeField;
  const train = { rhythm: { onSteps: 4, offSteps: 5, rarity: 0 }, switchingCount: 2, first: 300 };

  it.each([0, 1, 4, 9, 13, 30])("is the inner product of two trains %i steps apart, edge by edge", (steps) => {
    const edges = [0, 4, 9, 13].map((at, k) => ({ at, sign: k % 2 === 0 ? 1 : -1 }));
    const slow = edges.flatMap((one) =>
      edges.map((other) => {
        const apart = Math.abs(one.at - other.at - steps);
        return apart < size ? one.sign * other.sign * lagged(apart) : 0;
      }),
    );
    const sum = slow.reduce((total, part) => total + part, 0);
    expect(shiftedEnergy(field, train, steps)).toBeCloseTo(sum, 10);
    if (steps === 0) expect(sum).toBeCloseTo(trainEnergy(field, train), 10);
  });

  it("is nothing further off than the covariance is known", () => {
    expect(shiftedEnergy(field, train, size + 13)).toBe(0);
  });
});
