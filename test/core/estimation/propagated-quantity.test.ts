import { describe, expect, it } from "vitest";
import { normalDraw, propagatedQuantity } from "../../../src/core/estimation/propagated-quantity.js";
import { resistanceFromReference } from "../../../src/core/estimation/source-resistance.js";
import { normalQuantile } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("propagatedQuantity()", () => {
  it("keeps the first order where drawing agrees with it", () => {
    const { quantity, method } = propagatedQuantity(
      { value: 5, u: 0.1, unit: "A", route: "profile" },
      normalDraw({ value: 5, u: 0.1 }),
      randomGenerator(3),
    );
    expect(method).toBe("first-order");
    expect(quantity.high - 5).toBeCloseTo(0.196, 3);
  });

  it("keeps the first order up to a tenth of the half-width, at either end", () => {
    // The 20 000 draws are the quantiles of a normal distribution themselves, so that the ends are known to 0.1 %.
    const method = (stretch: number, shift: number) => {
      let k = 0;
      const draw = () => shift * 1.96 + stretch * normalQuantile((k++ + 0.5) / 20_000);
      return propagatedQuantity({ value: 0, u: 1, unit: "A", route: "profile" }, draw, randomGenerator(1)).method;
    };
    for (const off of [0.095, -0.095]) {
      expect([method(1 + off, 0), method(1, off)], `${off}`).toEqual(["first-order", "first-order"]);
    }
    for (const off of [0.105, -0.105]) {
      expect([method(1 + off, 0), method(1, off)], `${off}`).toEqual(["monte-carlo", "monte-carlo"]);
    }
  });

  it("draws a rating that may lie anywhere within 5 %: 95 % of it, not the 5.7 % of a normal one", () => {
    const u = 10 * (0.05 / Math.sqrt(3));
    const { quantity, method } = propagatedQuantity(
      { value: 10, u, unit: "A", route: "profile" },
      (random) => 10 * (1 + 0.05 * (2 * random.uniform() - 1)),
      randomGenerator(4),
    );
    expect(method).toBe("monte-carlo");
    // JCGM 101, 6.4.2: a rectangular distribution. The ends of 20 000 draws scatter by 0.0015.
    expect(Math.abs(quantity.high - 10.475)).toBeLessThan(0.008);
    expect(Math.abs(quantity.low - 9.525)).toBeLessThan(0.008);
    expect(Math.abs(quantity.u / u - 1)).toBeLessThan(0.02);
  });

  it("draws a ratio whose denominator is poorly known, skewed to the high side", () => {
    const { quantity, method } = propagatedQuantity(
      { value: 2, u: 0.4, unit: "Ohm", route: "profile" },
      (random) => 2 / (1 + 0.2 * random.normal()),
      randomGenerator(5),
    );
    expect(method).toBe("monte-carlo");
    // 2 / (1 +- 1.96 x 0.2)
    expect(Math.abs(quantity.low - 2 / 1.392)).toBeLessThan(0.03);
    expect(Math.abs(quantity.high - 2 / 0.608)).toBeLessThan(0.15);
  });
});

describe("resistanceFromReference()", () => {
  it.each(["resistive", "constant-power", "constant-current"] as const)(
    "draw() scatters about the resistance of a %s load by its first-order uncertainty",
    (kind) => {
      const answer = resistanceFromReference(
        { kind, rated: { powerW: 250, atV: 28, toleranceFraction: 0.05 } },
        { depth: { value: 0.18, u: 0.003 }, busV: { value: 24, u: 0.01 } },
      );
      if (!answer.known) throw new Error(answer.reason);
      const random = randomGenerator(6);
      const drawn = Array.from({ length: 20_000 }, () => answer.draw(random));
      const mean = drawn.reduce((sum, one) => sum + one, 0) / drawn.length;
      const deviation = Math.sqrt(drawn.reduce((sum, one) => sum + (one - mean) ** 2, 0) / drawn.length);
      expect(Math.abs(mean / answer.resistanceOhm - 1)).toBeLessThan(0.002);
      expect(Math.abs(deviation / answer.uOhm - 1)).toBeLessThan(0.03);
    },
  );
});
