import { describe, expect, it } from "vitest";
import { shapeBank } from "../../../src/core/detection/shape-bank.js";

const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);
const distinct = (values: readonly number[]) => new Set(values).size;

describe("shapeBank()", () => {
  it.each([
    ["heater", undefined, 0.2],
    ["resistive", { lagS: 0.25 }, 0.2],
    [null, undefined, 0],
    ["constant-power", {}, 1],
  ] as const)("%s: the weights are positive and sum to 1", (kind, meter, uncertaintyS) => {
    const weights = shapeBank(kind, meter, uncertaintyS).map(({ weight }) => weight);
    // The Gauss-Hermite weights are given to six digits.
    expect(sum(weights)).toBeCloseTo(1, 5);
    for (const weight of weights) expect(weight).toBeGreaterThan(0);
  });

  it("spreads the common shift with the stated standard deviation, and without one where the times are exact", () => {
    const bank = shapeBank("resistive", { lagS: 0.2 }, 0.3);
    expect(sum(bank.map(({ shape, weight }) => weight * shape.shiftS))).toBeCloseTo(0, 9);
    expect(Math.sqrt(sum(bank.map(({ shape, weight }) => weight * shape.shiftS ** 2)))).toBeCloseTo(0.3, 4);
    // Fourth moment of a normal distribution: 3 sd^4; a five-point rule has it exactly.
    expect(sum(bank.map(({ shape, weight }) => weight * shape.shiftS ** 4))).toBeCloseTo(3 * 0.3 ** 4, 4);
    expect(shapeBank("resistive", { lagS: 0.2 }, 0).every(({ shape }) => shape.shiftS === 0)).toBe(true);
  });

  it("holds a lag that the profile tells, and tries several where it does not", () => {
    expect(shapeBank("heater", { lagS: 0.25 }, 0.2).every(({ shape }) => shape.lagS === 0.25)).toBe(true);
    expect(distinct(shapeBank("heater", {}, 0.2).map(({ shape }) => shape.lagS))).toBeGreaterThan(2);
  });

  it("tries settling for heaters and unknown loads alone", () => {
    const settles = (kind: Parameters<typeof shapeBank>[0]) =>
      shapeBank(kind, undefined, 0.2).some(({ shape }) => shape.inrush > 0);
    expect([settles("heater"), settles(null)]).toEqual([true, true]);
    expect([settles("resistive"), settles("constant-power"), settles("constant-current")]).toEqual([
      false,
      false,
      false,
    ]);
  });

  it("holds every pairing of lag, inrush, polarisation and shift once, with the product of their weights", () => {
    const key = ({ shape }: ReturnType<typeof shapeBank>[number]) => JSON.stringify(shape);
    const bank = shapeBank(null, undefined, 0.2);
    const choices = (pick: (shape: (typeof bank)[number]["shape"]) => number) => {
      const weights = new Map<number, number>();
      for (const { shape, weight } of bank) weights.set(pick(shape), (weights.get(pick(shape)) ?? 0) + weight);
      return weights;
    };
    const [lags, inrushes, polarizations, shifts] = [
      choices(({ lagS }) => lagS),
      choices(({ inrush }) => inrush),
      choices(({ polarization }) => polarization),
      choices(({ shiftS }) => shiftS),
    ];
    expect(new Set(bank.map(key)).size).toBe(bank.length);
    expect(bank).toHaveLength(lags.size * inrushes.size * polarizations.size * shifts.size);
    for (const { shape, weight } of bank) {
      const product =
        lags.get(shape.lagS)! *
        inrushes.get(shape.inrush)! *
        polarizations.get(shape.polarization)! *
        shifts.get(shape.shiftS)!;
      expect(weight / product).toBeCloseTo(1, 4);
      // The time constants that the docstring names.
      expect(shape).toMatchObject({ settleS: 3, polarizationS: 20 });
    }
    // One of the inrushes is none at all: a load of unknown kind need not settle.
    expect([...inrushes.keys()]).toContain(0);
  });
});
