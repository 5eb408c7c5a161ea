import { describe, expect, it } from "vitest";
import { median, quantile } from "../../../src/core/statistics/quantile.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { readingNoise } from "../../../src/core/statistics/reading-noise.js";
import { robustDeviation, robustNoise } from "../../../src/core/statistics/robust-scale.js";
import { dataColumns } from "../../outside/data-files.js";

const flow = dataColumns("change-point/nile.csv")[1];

describe("quantile()", () => {
  // python3, numpy 1.24.2: numpy.quantile(nile, p), flow of the Nile 1871 to 1970
  it.each([
    [0.025, 683.6],
    [0.05, 697.8],
    [0.25, 798.5],
    [0.5, 893.5],
    [0.75, 1032.5],
    [0.975, 1240.5],
  ])("quantile(nile, %d) is numpy's %d", (probability, want) => {
    expect(quantile(flow, probability)).toBeCloseTo(want, 9);
  });

  it("median() leaves the values in their order", () => {
    const values = Float64Array.of(3, 1, 2);
    expect([median(values), ...values]).toEqual([2, 3, 1, 2]);
  });

  it("refuses no values", () => {
    expect(() => quantile(new Float64Array(0), 0.5)).toThrow(
      "Cannot take a quantile: at least 1 value is needed, got 0",
    );
  });
});

describe("robustDeviation()", () => {
  it("is 179.394868 for the Nile (scipy 1.10.1, median_abs_deviation(scale='normal'))", () => {
    expect(robustDeviation(flow)).toBeCloseTo(179.39486843917783, 9);
  });
});

describe("robustNoise() and readingNoise()", () => {
  const timesS = Float64Array.from({ length: 4000 }, (_, k) => k / 10);

  it("find white noise of 5 mV under drift, steps and 1 % of wild readings within 15 % (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      const random = randomGenerator(seed);
      const values = timesS.map((t) => 25 + 0.001 * t + (Math.floor(t / 40) % 2) * 0.3 + 0.005 * random.normal());
      for (let k = 0; k < 40; k++) values[Math.floor(4000 * random.uniform())] += 1;
      expect(Math.abs(robustNoise(values) / 0.005 - 1)).toBeLessThan(0.15);
      expect(Math.abs(readingNoise(timesS, values).sigma / 0.005 - 1)).toBeLessThan(0.15);
    }
  });

  it("readingNoise() is not led astray by two steps of a hundred readings (20 seeds)", () => {
    const few = Float64Array.from({ length: 100 }, (_, k) => k);
    for (let seed = 1; seed <= 20; seed++) {
      const random = randomGenerator(seed);
      const values = few.map((t) => 25 - (t >= 40 && t < 70 ? 0.3 : 0) + 0.005 * random.normal());
      // A fifth of the differences lie over a step: the middle of the others is that of 5 mV in 3 of 4, not in 2 of 4.
      expect(Math.abs(Math.log(readingNoise(few, values).sigma / 0.005)), `seed ${seed}`).toBeLessThan(Math.log(2));
    }
  });

  it("readingNoise() finds deviation and time constant of correlated noise within 15 and 40 % (mean of 20 seeds)", () => {
    let sigma = 0;
    let correlationS = 0;
    for (let seed = 1; seed <= 20; seed++) {
      const random = randomGenerator(seed);
      const keep = Math.exp(-0.1 / 0.3);
      let state = 0;
      const values = timesS.map(() => {
        state = keep * state + Math.sqrt(1 - keep ** 2) * 0.02 * random.normal();
        return state;
      });
      const noise = readingNoise(timesS, values);
      sigma += noise.sigma / 20;
      correlationS += noise.correlationS / 20;
    }
    expect(Math.abs(sigma / 0.02 - 1)).toBeLessThan(0.15);
    expect(Math.abs(correlationS / 0.3 - 1)).toBeLessThan(0.4);
  });
});
