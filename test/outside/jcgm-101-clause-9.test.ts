// JCGM 101:2008, clause 9: 9.2 additive model, 9.3 mass calibration, 9.4 comparison loss, 9.5 gauge block. 9.3 results
// and the model of 9.4 (X1^2 + X2^2) from memory; 9.2.3 exact by the formula printed there.
import { describe, expect, it } from "vitest";
import {
  adaptiveMonteCarlo,
  monteCarlo,
  shortestInterval,
  symmetricInterval,
} from "../../src/core/estimation/monte-carlo.js";
import { type RandomGenerator, randomGenerator } from "../../src/core/statistics/random.js";

const within = (value: number, want: number, fraction: number) =>
  expect(Math.abs(value - want)).toBeLessThan(fraction * Math.abs(want));
const rectangular = (random: RandomGenerator, low: number, high: number) => low + (high - low) * random.uniform();

describe("9.2 additive model", () => {
  it("9.2.2: four standard normals, u 2.0, 95 % +-3.92", () => {
    const { u, sorted } = monteCarlo((r) => r.normal() + r.normal() + r.normal() + r.normal(), randomGenerator(922));
    within(u, 2, 0.01);
    within(symmetricInterval(sorted, 0.95).high, 3.92, 0.01);
  });

  it("9.2.3: four rectangular of the same deviation, u 2.0, 95 % +-2 sqrt(3) (2 - (3/5)^(1/4)) = 3.879", () => {
    const half = Math.sqrt(3);
    const one = (r: RandomGenerator) => rectangular(r, -half, half);
    const { u, sorted } = monteCarlo((r) => one(r) + one(r) + one(r) + one(r), randomGenerator(923));
    within(u, 2, 0.01);
    const exact = 2 * half * (2 - 0.6 ** 0.25);
    within(symmetricInterval(sorted, 0.95).high, exact, 0.006);
    within(shortestInterval(sorted, 0.95).high - shortestInterval(sorted, 0.95).low, 2 * exact, 0.006);
  });

  it("9.2.4: one of deviation 10 dominates, u 10.1, 95 % +-17.0 where the first order says +-19.8", () => {
    const half = Math.sqrt(3);
    const one = (r: RandomGenerator) => rectangular(r, -half, half);
    const { u, sorted } = monteCarlo((r) => one(r) + one(r) + one(r) + 10 * one(r), randomGenerator(924));
    within(u, Math.sqrt(103), 0.01);
    within(symmetricInterval(sorted, 0.95).high, 17.0, 0.006);
  });
});

describe("9.3 mass calibration", () => {
  it("1.234 mg, u 0.0754 where the first order says 0.0539, shortest 95 % interval 1.0834 to 1.3825", () => {
    const result = adaptiveMonteCarlo(
      (r) => {
        const reference = 100_000 + 0.05 * r.normal() + 1.234 + 0.02 * r.normal();
        const air = rectangular(r, 1.1, 1.3) - 1.2;
        const buoyancy = air * (1 / rectangular(r, 7000, 9000) - 1 / rectangular(r, 7950, 8050));
        return reference * (1 + buoyancy) - 100_000;
      },
      randomGenerator(93),
      { digits: 2, coverage: 0.95 },
    );
    expect(result.stable).toBe(true);
    expect(Math.abs(result.mean - 1.234)).toBeLessThan(0.001);
    within(result.u, 0.0754, 0.01);
    const { low, high } = shortestInterval(result.sorted, 0.95);
    expect(Math.abs(low - 1.0834)).toBeLessThan(0.008);
    expect(Math.abs(high - 1.3825)).toBeLessThan(0.008);
  });
});

describe("9.4 comparison loss at zero", () => {
  it("y 50e-6, u 50e-6, shortest 95 % interval 0 to 150e-6", () => {
    const model = (r: RandomGenerator) => (0.005 * r.normal()) ** 2 + (0.005 * r.normal()) ** 2;
    const { mean, u, sorted } = monteCarlo(model, randomGenerator(94));
    within(mean, 50e-6, 0.01);
    within(u, 50e-6, 0.015);
    const { low, high } = shortestInterval(sorted, 0.95);
    expect(low).toBeLessThan(1e-6);
    within(high, 150e-6, 0.015);
  });
});

describe("9.5 gauge block", () => {
  const studentT = (r: RandomGenerator, dof: number) => {
    let chiSquare = 0;
    for (let k = 0; k < dof; k++) chiSquare += r.normal() ** 2;
    return r.normal() / Math.sqrt(chiSquare / dof);
  };
  // Trapezoid with inexactly known limits: the half-width itself is rectangular.
  const curved = (r: RandomGenerator, half: number, inexact: number) =>
    rectangular(r, -1, 1) * (half + rectangular(r, -inexact, inexact));

  it("u 36 nm where the first order says 32 nm, about 838 nm", () => {
    const { mean, u } = monteCarlo((r) => {
      const standard = 50_000_623 + 25 * studentT(r, 18);
      const difference = 215 + 6 * studentT(r, 24) + 4 * studentT(r, 5) + 7 * studentT(r, 8);
      const expansion = rectangular(r, 9.5e-6, 13.5e-6);
      const temperature = -0.1 + 0.2 * r.normal() + 0.5 * Math.sin(2 * Math.PI * r.uniform());
      const expansionDifference = curved(r, 1e-6, 0.1e-6);
      const temperatureDifference = curved(r, 0.05, 0.025);
      const thermal = standard * (expansionDifference * temperature + expansion * temperatureDifference);
      return standard + difference - thermal - 50_000_000;
    }, randomGenerator(95));
    expect(Math.abs(u - 36)).toBeLessThan(0.5);
    expect(Math.abs(mean - 838)).toBeLessThan(0.5);
  });
});
