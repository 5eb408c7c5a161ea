import { describe, expect, it } from "vitest";
import { fiellerInterval } from "../../../src/core/estimation/fieller.js";
import { jointFit } from "../../../src/core/estimation/joint-fit.js";
import { currentByReference, currentFromResistance } from "../../../src/core/estimation/load-current.js";
import {
  adaptiveMonteCarlo,
  monteCarlo,
  shortestInterval,
  symmetricInterval,
} from "../../../src/core/estimation/monte-carlo.js";
import { propagatedQuantity, propagatedRatio } from "../../../src/core/estimation/propagated-quantity.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const random = () => randomGenerator(1);

describe("propagatedRatio()", () => {
  const parts = (uDivisor: number) => ({
    numerator: { value: 0.2, u: 0.004 },
    divisor: { value: 10, u: uDivisor },
    factor: { value: 1.05, u: 0.0105 },
  });

  it("is factor times numerator over divisor, relative uncertainties in quadrature", () => {
    const found = propagatedRatio(parts(0.1), "measured-current", random());
    expect(found.value).toBeCloseTo(0.021, 12);
    expect(found.u).toBeCloseTo(0.021 * Math.hypot(0.02, 0.01, 0.01), 12);
    expect(found).toMatchObject({ unit: "Ohm", route: "measured-current" });
    expect(found.high - found.value).toBeCloseTo(found.value - found.low, 12);
  });

  it("draws where the divisor is known to 3 % or worse, and leans then to the high side", () => {
    // 20 % of the divisor: 0.021 / (1 -+ 0.392) with the other 2.2 %.
    const wide = propagatedRatio(parts(2), "measured-current", random());
    expect(wide.high - 0.021).toBeGreaterThan(1.5 * (0.021 - wide.low));
    expect(wide.low).toBeCloseTo(0.021 / 1.392, 3);
    const negative = propagatedRatio({ ...parts(2), divisor: { value: -10, u: 0.1 } }, "measured-current", random());
    expect(negative.u).toBeGreaterThan(0);
    expect(negative.value).toBeCloseTo(-0.021, 12);
  });

  it.each([0.001, 0.1, 2, 2.9, 3.1, 10, 20])("hangs on no unit, with a divisor known to %d %%", (percent) => {
    const shares = (scale: number) => {
      const divisor = { value: 10 * scale, u: 0.1 * percent * scale };
      const { value, u, low, high } = propagatedRatio({ ...parts(0), divisor }, "measured-current", random());
      return [u / value, low / value, high / value];
    };
    for (const scale of [1e-3, 0.05, 20, 1e3])
      shares(scale).forEach((share, k) => {
        expect(share).toBeCloseTo(shares(1)[k]!, 9);
      });
  });
});

describe("propagatedQuantity() of what is sure", () => {
  it("draws nothing", () => {
    const found = propagatedQuantity({ value: 3, u: 0, unit: "A", route: "profile" }, () => Number.NaN, random());
    expect(found).toMatchObject({ method: "first-order", quantity: { value: 3, u: 0, low: 3, high: 3 } });
  });
});

describe("currentFromResistance() by hand", () => {
  const options = { coverage: 0.95, random: random(), drawCount: 20_000 };

  it("is depth over resistance with both derivatives", () => {
    const found = currentFromResistance({ value: 0.1, u: 0.002 }, { value: 0.02, u: 0.0004 }, options);
    if (!found.known) throw new Error(found.reason);
    expect(found.currentA).toBeCloseTo(5, 12);
    expect(found.uA).toBeCloseTo(5 * Math.hypot(0.02, 0.02), 9);
    expect(found.rows).toEqual([
      { source: "depth", value: 0.1, unit: "V", u: 0.002, sensitivity: expect.closeTo(50, 9) },
      { source: "known-resistance", value: 0.02, unit: "Ohm", u: 0.0004, sensitivity: expect.closeTo(-250, 9) },
    ]);
    expect(found.high - found.currentA).toBeCloseTo(1.96 * found.uA, 4);
  });

  it("is as much larger as the resistance has grown until it is stated", () => {
    const growth = { value: 0.03, u: 0.01 };
    const found = currentFromResistance({ value: 0.1, u: 0.002 }, { value: 0.02, u: 0.0004 }, { ...options, growth });
    if (!found.known) throw new Error(found.reason);
    expect(found.currentA).toBeCloseTo(5.15, 12);
    expect(found.uA).toBeCloseTo(5.15 * Math.hypot(0.02, 0.02, 0.01 / 1.03), 9);
    expect(found.rows.map(({ source, sensitivity }) => [source, sensitivity])).toEqual([
      ["depth", expect.closeTo(51.5, 9)],
      ["known-resistance", expect.closeTo(-257.5, 9)],
      ["switching-time-and-shape", expect.closeTo(5, 9)],
    ]);
    // Drawn, the doubt of the growth counts as well.
    const doubted = { ...options, growth: { value: 0.03, u: 0.1 } };
    const drawn = currentFromResistance({ value: 0.1, u: 0 }, { value: 0.02, u: 0.0021 }, doubted);
    const plain = currentFromResistance({ value: 0.1, u: 0 }, { value: 0.02, u: 0.0021 }, options);
    if (!drawn.known || !plain.known) throw new Error("unknown");
    expect(drawn.method).toBe("monte-carlo");
    // 20,000 draws each: the ratio of their scatters is known to a per cent.
    expect(drawn.uA / plain.uA / Math.hypot(1.03, 0.1 / 0.105)).toBeGreaterThan(0.96);
    expect(drawn.uA / plain.uA / Math.hypot(1.03, 0.1 / 0.105)).toBeLessThan(1.04);
  });

  it("is drawn from a tenth of the resistance on: that much is no small change", () => {
    const method = (u: number) => {
      const found = currentFromResistance({ value: 0.1, u: 0.02 }, { value: 0.02, u }, options);
      return found.known ? found.method : null;
    };
    expect(method(0.0021)).toBe("monte-carlo");
    expect(method(0.0005)).toBe("first-order");
    expect(currentFromResistance({ value: 0.1, u: 0.02 }, { value: 0, u: 0.1 }, options)).toEqual({
      known: false,
      reason: "no-current-reference",
    });
  });
});

describe("currentByReference() with correlated depths", () => {
  it("takes off twice the covariance that ratio and depths share", () => {
    const input = {
      depth: { value: 0.1, u: 0.002 },
      referenceDepth: { value: 0.2, u: 0.004 },
      referenceCurrentA: { value: 10, u: 0.2 },
    };
    const u = (correlation: number) => {
      const found = currentByReference({ ...input, correlation }, { coverage: 0.95 });
      return found.known ? found.uA : Number.NaN;
    };
    // Relative 2 % each: fully correlated depths leave the rating's alone.
    expect(u(0)).toBeCloseTo(5 * Math.sqrt(3) * 0.02, 12);
    expect(u(1)).toBeCloseTo(5 * 0.02, 9);
    expect(u(0.5)).toBeCloseTo(5 * Math.sqrt(2) * 0.02, 12);
  });
});

describe("fiellerInterval() by its definition", () => {
  it("ends where numerator - q denominator is as many standard uncertainties off nothing", () => {
    const input = { numerator: 3, uNumerator: 0.2, denominator: 2, uDenominator: 0.3, covariance: 0.02 };
    const { low, high, ratio, bounded } = fiellerInterval(input, 1.96);
    expect([ratio, bounded]).toEqual([1.5, true]);
    for (const q of [low, high]) {
      const u = Math.sqrt(0.04 + q * q * 0.09 - 2 * q * 0.02);
      expect(Math.abs(3 - q * 2) / u).toBeCloseTo(1.96, 9);
    }
    expect(low).toBeLessThan(1.5);
    expect(high).toBeGreaterThan(1.5);
    const open = fiellerInterval({ ...input, uDenominator: 1.1 }, 1.96);
    expect(open).toEqual({ ratio: 1.5, low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY, bounded: false });
  });
});

describe("intervals of draws by hand", () => {
  const sorted = Float64Array.of(0, 1, 2, 3, 4, 5, 6, 7, 8, 20);

  it("symmetricInterval() leaves out as many on either side, shortestInterval() the farthest", () => {
    // Span of eight steps: from the second of ten.
    expect(symmetricInterval(sorted, 0.8)).toEqual({ low: 1, high: 20 });
    expect(shortestInterval(sorted, 0.8)).toEqual({ low: 0, high: 8 });
    expect(shortestInterval(sorted, 0.5)).toEqual({ low: 0, high: 5 });
    expect(symmetricInterval(sorted, 0.5)).toEqual({ low: 2, high: 7 });
    for (const coverage of [0, 1, Number.NaN]) expect(() => symmetricInterval(sorted, coverage)).toThrow(RangeError);
  });

  it("monteCarlo() has mean, deviation and order of its draws", () => {
    let k = 0;
    const values = [4, 1, 3, 2];
    const found = monteCarlo(() => values[k++]!, random(), 4);
    expect(found.mean).toBeCloseTo(2.5, 12);
    expect(found.u).toBeCloseTo(Math.sqrt(5 / 3), 12);
    expect(Array.from(found.sorted)).toEqual([1, 2, 3, 4]);
    expect(() => monteCarlo(() => 1, random(), 1)).toThrow("at least 2 draws are needed, got 1");
  });

  it("adaptiveMonteCarlo() draws until its digits stand, and says if they do not", () => {
    const normal = (generator: { normal(): number }) => 10 + generator.normal();
    const rough = adaptiveMonteCarlo(normal, random(), { digits: 1, coverage: 0.95 });
    expect(rough.stable).toBe(true);
    expect(Math.abs(rough.mean - 10)).toBeLessThan(0.05);
    expect(Math.abs(rough.u - 1)).toBeLessThan(0.03);
    const short = adaptiveMonteCarlo(normal, random(), { digits: 4, coverage: 0.95, mostDraws: 30_000 });
    expect(short.stable).toBe(false);
    expect(short.sorted).toHaveLength(30_000);
    expect(Array.from(short.sorted.slice(0, 100))).toEqual([...short.sorted.slice(0, 100)].sort((a, b) => a - b));
    expect(adaptiveMonteCarlo(() => 3, random(), { digits: 2, coverage: 0.9 })).toMatchObject({
      mean: 3,
      u: 0,
      stable: true,
    });
  });
});

describe("jointFit() of what is sure", () => {
  it("weighs two dips of one load by their variances", () => {
    const found = jointFit({
      depths: [
        { load: "a", valueV: 0.2 },
        { load: "a", valueV: 0.23 },
      ],
      covarianceV2: Float64Array.of(1e-4, 0, 0, 2e-4),
      currents: [{ load: "a", currentA: { value: 10, u: 1e-6 } }],
    });
    if (!found.known) throw new Error(found.reason);
    // Weights 2 : 1.
    expect(found.resistanceOhm.value).toBeCloseTo(0.021, 9);
    expect(found.resistanceOhm.u).toBeCloseTo(Math.sqrt(1e-4 / 1.5) / 10, 6);
    expect(found.dof).toBe(1);
    // 0.01^2 / 1e-4 + 0.02^2 / 2e-4.
    expect(found.chiSquare).toBeCloseTo(3, 6);
    expect(found.correlation[0]).toBeCloseTo(1, 12);
  });
});
