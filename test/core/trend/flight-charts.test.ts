import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { baselineOf } from "../../../src/core/trend/baseline.js";
import { controlLimit } from "../../../src/core/trend/control-limit.js";
import { flightCharts } from "../../../src/core/trend/flight-charts.js";
import { flightCorrelation } from "../../../src/core/trend/flight-correlation.js";
import { shiftLooks } from "../../../src/core/trend/level-shift.js";
import { flightRecord } from "../../bench/flight-record.js";

const BASELINE = 20;

/** Share of records in control that the moving average calls within 80 flights after the baseline. */
function falseShare(phi: number, outlierShare: number, limit: (r1: number) => number): number {
  const generator = randomGenerator(11);
  let called = 0;
  for (let record = 0; record < 1500; record++) {
    const flights = flightRecord({ flightCount: BASELINE + 80, phi, outlierShare }, generator);
    const charts = flightCharts(flights, { baselineFlights: BASELINE });
    const h = limit(charts.baseline.r1);
    if (charts.ewma.some((average) => average > h)) called++;
  }
  return called / 1500;
}

const ownLimit = (r1: number) =>
  controlLimit("ewma", {
    phi: flightCorrelation(r1, BASELINE),
    baselineFlights: BASELINE,
    sigmaKnown: false,
    falseCallRate: 0.17,
  });

describe("baselineOf", () => {
  it("baselineOf() of normal flights has their scatter, in the mean of many records", () => {
    const generator = randomGenerator(5);
    let sum = 0;
    for (let record = 0; record < 800; record++) {
      sum += baselineOf(flightRecord({ flightCount: 20, phi: 0, outlierShare: 0 }, generator)).sigma ** 2;
    }
    expect(Math.sqrt(sum / 800)).toBeGreaterThan(0.95);
    expect(Math.sqrt(sum / 800)).toBeLessThan(1.05);
  });

  it("baselineOf() follows shift and scale of the readings", () => {
    const flights = flightRecord({ flightCount: 20, phi: 0.3, outlierShare: 0.1 }, randomGenerator(6));
    const plain = baselineOf(flights);
    const moved = baselineOf(flights.map((flight) => 7 + 3 * flight));
    expect(moved.mean).toBeCloseTo(7 + 3 * plain.mean, 10);
    expect(moved.sigma).toBeCloseTo(3 * plain.sigma, 10);
    expect(moved.r1).toBeCloseTo(plain.r1, 10);
  });

  it("baselineOf() moves by less than half a scatter for one flight that is wild", () => {
    const flights = flightRecord({ flightCount: 20, phi: 0, outlierShare: 0 }, randomGenerator(8));
    const clean = baselineOf(flights);
    flights[7] += 100;
    const wild = baselineOf(flights);
    expect(Math.abs(wild.mean - clean.mean)).toBeLessThan(0.5);
    expect(wild.sigma / clean.sigma).toBeLessThan(1.5);
  });

  it("baselineOf() of four flights throws", () => {
    expect(() => baselineOf([1, 2, 3, 4])).toThrow("Cannot set a baseline: at least 5 flights are needed, got 4");
  });
});

describe("controlLimit", () => {
  it("controlLimit() lies between its neighbours in correlation and baseline length", () => {
    const at = (phi: number, baselineFlights: number) =>
      controlLimit("ewma", { phi, baselineFlights, sigmaKnown: false, falseCallRate: 0.17 });
    expect(at(0.2, 20)).toBeGreaterThan(at(0.15, 20));
    expect(at(0.2, 20)).toBeLessThan(at(0.3, 20));
    expect(at(0.3, 25)).toBeGreaterThan(at(0.3, 30));
    expect(at(0.3, 25)).toBeLessThan(at(0.3, 20));
    expect(at(0.3, 200)).toBe(at(0.3, 50));
    expect(at(0.9, 20)).toBe(at(0.6, 20));
    const seldom = controlLimit("ewma", { phi: 0.2, baselineFlights: 20, sigmaKnown: false, falseCallRate: 0.01 });
    expect(seldom).toBeGreaterThan(at(0.2, 20));
  });

  // 1,500 records: two standard errors are 2 points.
  it("ewma limit for the record's own correlation calls at most 18 % of batteries in control within 100 flights", () => {
    expect(falseShare(0, 0.02, ownLimit)).toBeLessThan(0.18);
    const correlated = falseShare(0.3, 0.02, ownLimit);
    expect(correlated).toBeLessThan(0.2);
    expect(correlated).toBeGreaterThan(0.13);
  });

  it("ewma limit of the textbook, 0.753 for a mean run of 500, calls twice as many at correlation 0.3", () => {
    expect(falseShare(0.3, 0.02, () => 0.753)).toBeGreaterThan(0.36);
  });
});

describe("flightCharts", () => {
  it("flightCharts() average is moved at most 0.375 scatters by one flight, however wild", () => {
    const flights = flightRecord({ flightCount: 30, phi: 0, outlierShare: 0 }, randomGenerator(9));
    const calm = flightCharts(flights, { baselineFlights: BASELINE });
    flights[25] += 1000;
    const wild = flightCharts(flights, { baselineFlights: BASELINE });
    expect(wild.ewma[5] - calm.ewma[5]).toBeLessThanOrEqual(0.15 * 5);
    expect(wild.ewma[5]).toBeLessThanOrEqual(0.85 * calm.ewma[4] + 0.15 * 2.5 + 1e-12);
  });

  it("flightCharts() sums up what lies more than half a scatter above the baseline, and nothing below", () => {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: S = max(0, S + z - k), here in scatters.
    const flights = flightRecord({ flightCount: BASELINE + 30, phi: 0, outlierShare: 0 }, randomGenerator(9));
    const { z, cusum } = flightCharts(flights, { baselineFlights: BASELINE, sigma: 2 });
    let sum = 0;
    cusum.forEach((one, k) => {
      expect(Math.abs(z[BASELINE + k]!), "none is held back").toBeLessThan(2);
      sum = Math.max(0, sum + z[BASELINE + k]! - 0.5);
      expect(one).toBeCloseTo(sum, 12);
    });
  });

  it("flightCharts() of fewer flights than the baseline throws", () => {
    expect(() => flightCharts([1, 2, 3], { baselineFlights: 20 })).toThrow(
      "Cannot chart: the baseline takes 20 flights, got 3",
    );
  });
});

describe("shiftLooks", () => {
  it("shiftLooks() finds an exchange of -25 % at 8 % scatter within 3 flights in 90 % of records", () => {
    const generator = randomGenerator(12);
    const limit = controlLimit("level-shift", {
      phi: 0,
      baselineFlights: BASELINE,
      sigmaKnown: false,
      falseCallRate: 0.17,
    });
    let found = 0;
    for (let record = 0; record < 500; record++) {
      const departure = (index: number) => (index >= 40 ? Math.log(0.75) / 0.08 : 0);
      const flights = flightRecord({ flightCount: 43, phi: 0, outlierShare: 0, departure }, generator);
      const { z } = flightCharts(flights, { baselineFlights: BASELINE });
      if (shiftLooks(z, 0, 40).some((look) => look.t > limit)) found++;
    }
    expect(found / 500).toBeGreaterThan(0.9);
  });

  it("shiftLooks() names the first flight of the new level", () => {
    const z = Float64Array.from({ length: 40 }, (_, index) => (index < 36 ? 0.1 * (-1) ** index : -2.5));
    expect(shiftLooks(z, 0, 20).at(-1)!.firstFlight).toBe(36);
  });

  it("shiftLooks() does not take a single low flight for a new level", () => {
    const z = Float64Array.from({ length: 40 }, (_, index) => (index === 37 ? -8 : (-1) ** index));
    expect(Math.max(...shiftLooks(z, 0.3, 20).map((look) => look.t))).toBeLessThan(3);
  });
});
